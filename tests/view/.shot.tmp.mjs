// ../../tmp/prof.ts
import { readFileSync } from "node:fs";

// tests/view/page.ts
import { existsSync } from "node:fs";
import { createServer } from "node:http";
import { build } from "esbuild";
import { chromium } from "playwright-core";

// extension/host/report-html.ts
function policyOf(nonce) {
  return [
    "default-src 'none'",
    `script-src 'nonce-${nonce}'`,
    `style-src 'nonce-${nonce}'`,
    "base-uri 'none'",
    "form-action 'none'",
    // A policy that a string could get round by becoming markup or code: none may.
    "require-trusted-types-for 'script'",
    "trusted-types 'none'"
  ].join("; ");
}
function reportHtml(script, style, nonce) {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${escaped(policyOf(nonce))}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Shimwright report</title>
<link rel="stylesheet" nonce="${nonce}" href="${escaped(style)}">
</head>
<body>
<div id="page"><p class="waiting" role="status">Reading the report\u2026</p></div>
<script type="module" nonce="${nonce}" src="${escaped(script)}"></script>
</body>
</html>
`;
}
function escaped(text) {
  return text.replace(/[&<>"]/g, (character) => `&#${character.charCodeAt(0)};`);
}

// tests/view/themes.ts
var shared = {
  "font-family": 'system-ui, "DejaVu Sans", sans-serif',
  "font-size": "13px"
};
var themes = {
  light: {
    kind: "vscode-light",
    colours: {
      ...shared,
      foreground: "#4a4a4a",
      "editor-foreground": "#262626",
      "editor-background": "#ffffff",
      descriptionForeground: "#636363",
      "charts-orange": "#b85c00",
      "charts-blue": "#0b62b8",
      focusBorder: "#0078c8",
      "textLink-foreground": "#0061a8",
      "button-background": "#0068b0",
      "button-foreground": "#ffffff",
      "button-hoverBackground": "#005590",
      "editorWarning-foreground": "#b07a00",
      "editorError-foreground": "#c62b2b",
      "list-hoverBackground": "#f0f0f0",
      "list-activeSelectionBackground": "#dcebf8",
      "list-activeSelectionForeground": "#000000",
      "editorWidget-background": "#f6f6f6",
      "input-background": "#ffffff",
      "input-foreground": "#262626",
      "input-border": "#c4c4c4"
    }
  },
  dark: {
    kind: "vscode-dark",
    colours: {
      ...shared,
      foreground: "#c8c8c8",
      "editor-foreground": "#d2d2d2",
      "editor-background": "#1d1f21",
      descriptionForeground: "#9a9d9f",
      "charts-orange": "#e08e3c",
      "charts-blue": "#5aa7ee",
      focusBorder: "#3aa0f0",
      "textLink-foreground": "#6cb2f2",
      "button-background": "#1a6fb5",
      "button-foreground": "#ffffff",
      "button-hoverBackground": "#2480c8",
      "editorWarning-foreground": "#cca400",
      "editorError-foreground": "#f0604c",
      "list-hoverBackground": "#2a2d2f",
      "list-activeSelectionBackground": "#143a5a",
      "list-activeSelectionForeground": "#ffffff",
      "editorWidget-background": "#25282a",
      "input-background": "#2b2e30",
      "input-foreground": "#d2d2d2",
      "input-border": "#45494c"
    }
  },
  "high-contrast": {
    kind: "vscode-high-contrast",
    colours: {
      ...shared,
      foreground: "#ffffff",
      "editor-foreground": "#ffffff",
      "editor-background": "#000000",
      descriptionForeground: "#ffffff",
      "charts-orange": "#ffa94d",
      "charts-blue": "#6fc1ff",
      focusBorder: "#ffd400",
      contrastBorder: "#7dd3e8",
      "textLink-foreground": "#7cc4ff",
      "button-background": "#000000",
      "button-foreground": "#ffffff",
      "button-border": "#7dd3e8",
      "button-hoverBackground": "#000000",
      "editorWarning-foreground": "#ffd370",
      "editorError-foreground": "#ff8a80",
      "list-activeSelectionBackground": "#000000",
      "list-activeSelectionForeground": "#ffffff",
      "editorWidget-background": "#000000",
      "input-background": "#000000",
      "input-foreground": "#ffffff",
      "input-border": "#7dd3e8"
    }
  }
};

// tests/view/page.ts
var chromiumPath = process.env.CHROMIUM ?? "/usr/bin/chromium";
var noBrowser = existsSync(chromiumPath) ? null : `there is no Chromium at ${chromiumPath}`;
var flags = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--autoplay-policy=no-user-gesture-required"
];
var PageHouse = class _PageHouse {
  constructor(browser, server, address) {
    this.browser = browser;
    this.server = server;
    this.address = address;
  }
  browser;
  server;
  address;
  static async open() {
    const { outputFiles } = await build({
      entryPoints: { view: "extension/view/page.ts", style: "extension/view/page.css" },
      bundle: true,
      format: "esm",
      target: "es2022",
      outdir: "out",
      write: false,
      logLevel: "warning"
    });
    const text = (end) => outputFiles.find(({ path }) => path.endsWith(end)).text;
    const [script, style] = [text("view.js"), text("style.css")];
    const server = createServer((request, response) => {
      const { pathname, searchParams } = new URL(request.url ?? "/", "http://localhost");
      const send = (kind, body) => {
        response.writeHead(200, { "content-type": `${kind}; charset=utf-8` });
        response.end(body);
      };
      if (pathname === "/view.js") return send("text/javascript", script);
      if (pathname === "/style.css") return send("text/css", style);
      if (pathname === "/")
        return send("text/html", frame(searchParams.get("theme") ?? "dark"));
      response.writeHead(404).end();
    });
    await new Promise((settle) => server.listen(0, "127.0.0.1", settle));
    const browser = await chromium.launch({ executablePath: chromiumPath, headless: true, args: flags });
    return new _PageHouse(browser, server, `http://127.0.0.1:${server.address().port}/`);
  }
  /** @param onMessage the editor's part: called with each message of the page */
  async page(theme2, onMessage = () => void 0, width2 = 1180, height = 900) {
    const page = await this.browser.newPage({ viewport: { width: width2, height } });
    const sent = [];
    const complaints = [];
    page.on("console", (message2) => {
      if (["error", "warning"].includes(message2.type())) complaints.push(message2.text());
    });
    page.on("pageerror", (error) => complaints.push(error.message));
    await page.exposeFunction("toEditor", (message2) => {
      sent.push(message2);
      onMessage(message2);
    });
    await page.goto(`${this.address}?theme=${theme2}`);
    return {
      page,
      sent,
      complaints,
      post: (message2) => page.evaluate((data) => window.postMessage(data, "*"), message2),
      setTheme: (name) => page.evaluate(
        ([kind, colours]) => {
          document.body.className = kind;
          for (const [key, value] of Object.entries(colours))
            document.documentElement.style.setProperty(`--vscode-${key}`, value);
        },
        [themes[name].kind, themes[name].colours]
      ),
      close: () => page.close()
    };
  }
  async close() {
    await this.browser.close();
    await new Promise((settle) => this.server.close(settle));
  }
};
function frame(theme2) {
  const nonce = "bm9uY2UtZm9yLXRlc3Rz";
  const { kind, colours } = themes[theme2];
  const editor = `
    for (const [key, value] of Object.entries(${JSON.stringify(colours)}))
      document.documentElement.style.setProperty('--vscode-' + key, value);
    window.refused = [];
    document.addEventListener('securitypolicyviolation', ({ violatedDirective, blockedURI, sourceFile, lineNumber, sample }) =>
      window.refused.push([violatedDirective, blockedURI, sourceFile, lineNumber, sample].join(' ')));
    window.acquireVsCodeApi = () => ({
      postMessage: (message) => void window.toEditor(message),
      getState: () => JSON.parse(sessionStorage.getItem('kept') ?? 'null') ?? undefined,
      setState: (state) => sessionStorage.setItem('kept', JSON.stringify(state)),
    });`;
  return reportHtml("/view.js", "/style.css", nonce).replace(
    "<body>",
    () => `<body class="${kind}"><script nonce="${nonce}">${editor}</script>`
  );
}

// analysis/numbers/inference.ts
import fCdf from "@stdlib/stats-base-dists-f-cdf";
import studentT from "@stdlib/stats-base-dists-t";
var manyDegreesOfFreedom = 1e9;
function studentTQuantile(p, degreesOfFreedom) {
  return studentT.quantile(p, Math.min(degreesOfFreedom, manyDegreesOfFreedom));
}

// extension/host/report-tempo.ts
var fewestStrikes = 6;
var mostWindows = 60;
function tempoCourseOf(report2) {
  const { barrel, channels = [], hits } = report2;
  const reference = channels.find((channel2) => channel2.reference)?.id;
  if (barrel === void 0 || reference === void 0) return [];
  const strikes = hits.filter(
    (hit2) => hit2.channel === reference && hit2.state === "used" && hit2.turn !== null && hit2.step !== null
  ).sort((a, b) => a.timeS - b.timeS);
  return tempoCourse(
    Float64Array.from(strikes, ({ timeS }) => timeS),
    Float64Array.from(strikes, ({ turn, step }) => turn * barrel.steps + step),
    barrel.stepsPerBeat
  );
}
function tempoCourse(timeS, position, stepsPerBeat) {
  const count = timeS.length;
  const size = Math.max(fewestStrikes, Math.ceil(count / mostWindows));
  const windows = Math.floor(count / size);
  return Array.from(
    { length: windows },
    (_, i) => lineThrough(
      timeS.subarray(Math.floor(i * count / windows), Math.floor((i + 1) * count / windows)),
      position.subarray(Math.floor(i * count / windows), Math.floor((i + 1) * count / windows)),
      stepsPerBeat
    )
  ).filter((point) => point !== null);
}
function lineThrough(timeS, position, stepsPerBeat) {
  const n = timeS.length;
  const meanT = timeS.reduce((a, b) => a + b, 0) / n;
  const meanP = position.reduce((a, b) => a + b, 0) / n;
  let pp = 0;
  let pt = 0;
  for (let i = 0; i < n; i++) {
    pp += (position[i] - meanP) ** 2;
    pt += (position[i] - meanP) * (timeS[i] - meanT);
  }
  const slope = pt / pp;
  if (!(slope > 0)) return null;
  let left = 0;
  for (let i = 0; i < n; i++) left += (timeS[i] - meanT - slope * (position[i] - meanP)) ** 2;
  const slopeSd = Math.sqrt(left / (n - 2) / pp);
  const bpm = 60 / (slope * stepsPerBeat);
  return { timeS: meanT, bpm, bpmCi95: bpm * studentTQuantile(0.975, n - 2) * slopeSd / slope };
}

// extension/protocol/page-report.ts
import { z as z2 } from "zod";

// analysis/results.ts
import { z } from "zod";

// analysis/catalogue.ts
var catalogue = {
  "misplaced-pin": {
    severity: "warning",
    mend: "move the pin, or correct the pattern if the barrel is right"
  },
  "missing-hit": { severity: "note", mend: "look at the release and the feed of this striker at this pin" },
  "feed-ran-out": { severity: "warning", mend: "refill or free the feed, then record again" },
  rebound: { severity: "note", mend: "damp the striker or shorten its free travel" },
  "extra-hit": {
    severity: "note",
    mend: "listen at the named times: a stray pin, a rebound, or a noise in the room"
  },
  "sector-edge": { severity: "note", mend: "check the joint, or move the pattern away from the edge" },
  "pin-error": { severity: "note", mend: "re-seat the named pins" },
  unrepeatable: {
    severity: "warning",
    mend: "mend the release before shimming: its scatter is larger than tolerance"
  },
  "tempo-drift": { severity: "note", mend: "let the drive warm up, or check its regulation" },
  "shaft-wobble": { severity: "note", mend: "check the named shaft for run-out" },
  clipped: { severity: "warning", mend: "lower the recording level and record again" },
  noisy: { severity: "warning", mend: "move the microphone closer, or quieten the room" },
  "ambiguous-rotation": {
    severity: "warning",
    mend: 'give "startStep" in take.jsonc, or a marker "sector:ID"'
  },
  "unidentifiable-sectors": {
    severity: "warning",
    mend: "take a reference that is not on the barrel, or record more turns"
  },
  "out-of-range": { severity: "error", mend: "correct the setting or its limits in machine.jsonc" },
  "too-few-hits": { severity: "note", mend: "record more turns" },
  "wrong-way-effect": { severity: "warning", mend: 'check the sign of "perUnit" in machine.jsonc' },
  "no-effect": {
    severity: "warning",
    mend: 'check that the adjuster is free and that "shifts" names what it moves'
  },
  "out-of-reach": { severity: "warning", mend: "widen the named limit, or accept what is left" },
  "no-rotation": {
    severity: "error",
    mend: "check the pattern, the tempo in take.jsonc and which channels were recorded"
  },
  "silent-track": { severity: "warning", mend: "check the recording: nothing was heard on this track" },
  "bad-samples": {
    severity: "warning",
    mend: "export the recording again; samples that are not numbers were taken as silence"
  },
  "marker-outside": { severity: "warning", mend: "check that the markers belong to this recording" },
  "header-disagrees": {
    severity: "warning",
    mend: "export the recording again; what could be read was used"
  },
  "unreadable-marker": { severity: "warning", mend: "correct the marker in its file" },
  "unused-file": { severity: "note", mend: "nothing to do if the file is not part of the take" },
  "unknown-sound": {
    severity: "note",
    mend: 'name the sound under "labels" or the track under "tracks" in take.jsonc'
  }
};
var findingKinds = Object.keys(catalogue);

// analysis/results.ts
var known = z.number().nullable();
var channel = z.string();
var sector = z.string();
var hitSchema = z.object({
  timeS: z.number().describe("From the files\u2019 common start, at the microphone"),
  track: z.number().int().nullable().describe("Index of the take\u2019s track; null where a marker alone names the hit"),
  channel: channel.nullable(),
  turn: z.number().int().nullable(),
  step: z.number().int().nullable(),
  sector: sector.nullable(),
  latenessMs: known,
  timeSdS: known,
  state: z.enum(["used", "set-aside"]),
  why: z.string().optional()
});
var groupSchema = z.object({
  channel,
  sector: sector.nullable().describe("null: the whole channel"),
  count: z.number().int().describe("Strokes used"),
  meanMs: known,
  medianMs: known,
  sdMs: known.describe("Robust spread of all its strokes"),
  ci95Ms: known.describe("For the mean of the pins now fitted"),
  pinSdMs: known.describe("Scatter from pin to pin, chance taken off"),
  repeatabilityMs: known.describe("Spread of one pin from turn to turn, pooled over its pins")
});
var pinSchema = z.object({
  channel,
  step: z.number().int(),
  count: z.number().int(),
  meanMs: known,
  ci95Ms: known,
  repeatabilityMs: known
});
var findingSchema = z.object({
  kind: z.union([z.enum(findingKinds), z.templateLiteral([z.string().min(1), ":", z.string().min(1)])]).describe('Of the catalogue; those of checks that others add have a colon: "theirs:felt-worn"'),
  severity: z.enum(["note", "warning", "error"]),
  channel: channel.optional(),
  sector: sector.optional(),
  step: z.number().int().optional(),
  foundStep: z.number().int().optional(),
  turn: z.number().int().optional(),
  adjuster: z.string().optional(),
  file: z.string().optional(),
  place: z.string().optional(),
  message: z.string(),
  mend: z.string().optional()
});
var adviceSchema = z.object({
  settings: z.array(
    z.object({
      adjuster: z.string(),
      unit: z.string(),
      installed: z.number().int(),
      proposed: z.number().int()
    })
  ).describe("Only adjusters whose setting changes"),
  predicted: z.array(
    z.object({
      channel,
      sector,
      beforeMs: known,
      afterMs: known,
      ci95Ms: known,
      toleranceMs: z.number().optional()
    })
  ),
  effects: z.array(
    z.object({
      adjuster: z.string(),
      msPerUnit: known,
      sdMs: known,
      from: z.enum(["geometry", "takes"]),
      geometryMsPerUnit: known.optional(),
      verdict: z.enum(["wrong-way", "no-effect"]).optional().describe("What the takes say against the machine file; such an adjuster is left alone")
    })
  ).optional(),
  step: z.enum(["good-enough", "not-resolvable", "change", "out-of-reach"]).optional().describe("What is next: stop, record more turns, change settings, or mend what settings cannot"),
  turnsToResolve: z.number().int().nullable().optional().describe(
    "Turns that a take must hold so that every interval lies within tolerance; null: turns alone will not do"
  ),
  /** One plain sentence: nothing to do, do this, or out of reach and why. */
  summary: z.string(),
  worstBeforeMs: known,
  worstAfterMs: known,
  proven: z.boolean().describe("true where the solver proved the proposal optimal"),
  gap: known.optional().describe("Relative gap to the solver\u2019s bound: 0 when proven, null when unknown"),
  obstacles: z.array(z.object({ channel, sector, message: z.string() })).optional().describe("Groups that no allowed setting brings within tolerance, and what stands in the way")
});
var sectionSchema = z.object({
  id: z.string(),
  title: z.string(),
  sentences: z.array(z.string()),
  table: z.object({ columns: z.array(z.string()), rows: z.array(z.array(z.string())) }).optional(),
  plot: z.object({
    xLabel: z.string(),
    yLabel: z.string(),
    scale: z.enum(["linear", "logarithmic"]).optional().describe("Of both axes; absent: linear"),
    series: z.array(
      z.object({
        name: z.string(),
        line: z.boolean().optional().describe("true: points are joined"),
        points: z.array(z.tuple([known, known]))
      })
    )
  }).optional()
}).describe("What one check measured, found or not");
var reportSchema = z.object({
  schema: z.literal(1),
  machine: z.string(),
  take: z.string(),
  /** What the machine was when it was measured, so that a report can be read without machine.jsonc. */
  channels: z.array(
    z.object({
      id: channel,
      name: z.string().optional(),
      toleranceMs: z.number(),
      reference: z.boolean(),
      onBarrel: z.boolean()
    })
  ).optional().describe("In the machine\u2019s order"),
  barrel: z.object({
    steps: z.number().int(),
    stepsPerBeat: z.number(),
    sectors: z.array(z.object({ id: sector, from: z.number().int() }))
  }).optional(),
  tempo: z.object({ bpm: known, bpmCi95: known, secondsPerTurn: known }),
  recorded: z.string().nullable(),
  settings: z.record(z.string(), z.number()),
  tracks: z.array(
    z.object({ file: z.string(), track: z.number().int(), sampleRate: z.number(), noiseDb: known })
  ),
  hits: z.array(hitSchema),
  groups: z.array(groupSchema),
  pins: z.array(pinSchema),
  findings: z.array(findingSchema),
  sections: z.array(sectionSchema).optional(),
  advice: adviceSchema
});

// extension/protocol/page-report.ts
var reportHeadSchema = reportSchema.omit({ hits: true });
var none = -1;
var hitColumnsSchema = z2.object({
  timeS: z2.instanceof(Float64Array),
  timeSdS: z2.instanceof(Float64Array),
  latenessMs: z2.instanceof(Float64Array),
  /** Index of the take's track. */
  track: z2.instanceof(Int32Array),
  turn: z2.instanceof(Int32Array),
  step: z2.instanceof(Int32Array),
  /** Indices into the lists of the same names below. */
  channel: z2.instanceof(Int32Array),
  sector: z2.instanceof(Int32Array),
  /** Why the hit is set aside; `none` where it is used. */
  why: z2.instanceof(Int32Array),
  channels: z2.array(z2.string()),
  sectors: z2.array(z2.string()),
  whys: z2.array(z2.string())
}).refine(
  (hits) => [
    hits.timeSdS,
    hits.latenessMs,
    hits.track,
    hits.turn,
    hits.step,
    hits.channel,
    hits.sector,
    hits.why
  ].every((column) => column.length === hits.timeS.length),
  "columns of one length"
).refine(
  (hits) => isIndex(hits.channel, hits.channels) && isIndex(hits.sector, hits.sectors) && isIndex(hits.why, hits.whys),
  "indices into their lists"
);
function isIndex(column, list) {
  return column.every((index) => index >= none && index < list.length);
}
function packReport(report2) {
  const { hits, ...head } = report2;
  const rows = inTimeOrder(hits);
  const channels = listOf((report2.channels ?? []).map(({ id }) => id));
  const sectors = listOf((report2.barrel?.sectors ?? []).map(({ id }) => id));
  const whys = listOf([]);
  const numbers = (of) => Float64Array.from(rows, (row) => of(row) ?? NaN);
  const indices = (of) => Int32Array.from(rows, (row) => of(row) ?? none);
  return {
    head,
    hits: {
      timeS: numbers(({ timeS }) => timeS),
      timeSdS: numbers(({ timeSdS }) => timeSdS),
      latenessMs: numbers(({ latenessMs }) => latenessMs),
      track: indices(({ track }) => track),
      turn: indices(({ turn }) => turn),
      step: indices(({ step }) => step),
      channel: indices(({ channel: channel2 }) => channels.indexOf(channel2)),
      sector: indices(({ sector: sector2 }) => sectors.indexOf(sector2)),
      why: indices(({ state, why }) => state === "used" ? null : whys.indexOf(why ?? "set aside")),
      channels: channels.list,
      sectors: sectors.list,
      whys: whys.list
    }
  };
}
function inTimeOrder(hits) {
  const sorted = hits.every((hit2, i) => i === 0 || hits[i - 1].timeS <= hit2.timeS);
  return sorted ? hits : [...hits].sort((a, b) => a.timeS - b.timeS);
}
function listOf(start) {
  const list = [...start];
  const places = new Map(list.map((text, i) => [text, i]));
  const indexOf = (text) => {
    if (text === null) return null;
    let place = places.get(text);
    if (place === void 0) {
      place = list.push(text) - 1;
      places.set(text, place);
    }
    return place;
  };
  return { list, indexOf };
}

// tests/view/report-message.ts
function messageOf(report2, details = {}) {
  return {
    kind: "report",
    run: 1,
    take: "take:one",
    ...packReport(report2),
    corrections: [],
    tempoCourse: tempoCourseOf(report2),
    mayChange: true,
    patternInText: true,
    ...details
  };
}

// tests/report/example.ts
function group(channel2, sector2, meanMs, ci95Ms = 0.3) {
  return {
    channel: channel2,
    sector: sector2,
    count: meanMs === null ? 2 : 12,
    meanMs,
    medianMs: meanMs,
    sdMs: meanMs === null ? null : 0.6,
    ci95Ms: meanMs === null ? null : ci95Ms,
    pinSdMs: meanMs === null ? null : 0.5,
    repeatabilityMs: meanMs === null ? null : 0.25
  };
}
function hit(channel2, sector2, latenessMs, details = {}) {
  return {
    timeS: 1,
    track: 0,
    channel: channel2,
    turn: 0,
    step: 0,
    sector: sector2,
    latenessMs,
    timeSdS: 4e-6,
    state: "used",
    ...details
  };
}
function exampleReport() {
  return {
    schema: 1,
    machine: "Mill Lane attic barrel",
    take: "second-round",
    channels: [
      { id: "block", name: "Wood block", toleranceMs: 2, reference: true, onBarrel: false },
      { id: "gong", name: "Gong", toleranceMs: 2, reference: false, onBarrel: true },
      { id: "drum", toleranceMs: 3, reference: false, onBarrel: true }
    ],
    barrel: {
      steps: 96,
      stepsPerBeat: 4,
      sectors: [
        { id: "A", from: 0 },
        { id: "B", from: 48 }
      ]
    },
    tempo: { bpm: 119.98, bpmCi95: 4e-3, secondsPerTurn: 12.002 },
    recorded: "2026-05-02T21:40",
    settings: { "joint-AB": 3, "lever-gong": 2 },
    tracks: [{ file: "close.wav", track: 0, sampleRate: 48e3, noiseDb: -71.25 }],
    hits: [
      hit("block", "A", 0.05, { timeS: 0.5 }),
      hit("block", "B", -0.05, { timeS: 6.5, step: 48 }),
      hit("gong", "A", 4.2, { timeS: 1.25, step: 6 }),
      hit("gong", "A", 4.4, { timeS: 13.25, step: 6, turn: 1 }),
      hit("gong", "B", -3.4, { timeS: 7.25, step: 54 }),
      hit("drum", "A", 2.8, { timeS: 1.5, step: 8 }),
      hit(null, null, null, { timeS: 9, turn: null, step: null, state: "set-aside", why: "no pin here" })
    ],
    groups: [
      group("block", null, 0, 0.05),
      group("block", "A", 0.05, 0.05),
      group("block", "B", -0.05, 0.05),
      group("gong", null, 0.4),
      group("gong", "A", 4.3),
      group("gong", "B", -3.4),
      group("drum", null, 2.8),
      group("drum", "A", 2.8),
      group("drum", "B", null)
    ],
    pins: [
      { channel: "gong", step: 6, count: 6, meanMs: 4.3, ci95Ms: 0.4, repeatabilityMs: 0.2 },
      { channel: "gong", step: 54, count: 6, meanMs: -3.4, ci95Ms: 0.4, repeatabilityMs: 0.2 }
    ],
    findings: [
      {
        kind: "misplaced-pin",
        severity: "warning",
        channel: "gong",
        step: 20,
        foundStep: 21,
        file: "pattern.csv",
        place: "line 9",
        message: "the pin of gong at step 20 is heard at step 21, turn after turn",
        mend: "move the pin, or correct the pattern if the barrel is right"
      }
    ],
    advice: {
      settings: [
        { adjuster: "joint-AB", unit: "shim", installed: 3, proposed: 5 },
        { adjuster: "lever-gong", unit: "shim", installed: 2, proposed: 1 }
      ],
      predicted: [
        { channel: "gong", sector: "A", beforeMs: 4.3, afterMs: 0.4, ci95Ms: 0.5, toleranceMs: 2 },
        { channel: "gong", sector: "B", beforeMs: -3.4, afterMs: 0.6, ci95Ms: 0.5, toleranceMs: 2 }
      ],
      summary: "Change two adjusters; every group is then predicted to be within tolerance.",
      worstBeforeMs: 4.3,
      worstAfterMs: 0.6,
      proven: true
    }
  };
}

// tests/report/barrels.ts
function numbersFrom(seed) {
  let state = seed % 2147483647 || 1;
  return () => (state = state * 16807 % 2147483647) / 2147483647;
}
function barrelReport(channelCount, sectorCount, turns, pinsASector, seed = 7) {
  const next = numbersFrom(seed);
  const normal = () => Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next());
  const stepsASector = 40;
  const sectors = Array.from({ length: sectorCount }, (_, i) => ({
    id: sectorCount > 26 ? `${i + 1}` : String.fromCharCode(65 + i),
    from: i * stepsASector
  }));
  const channels = Array.from({ length: channelCount }, (_, i) => ({
    id: `striker-${i + 1}`,
    name: ["Wood block", "Low drum", "Gong, near mallet", "Gong, far mallet", "Rim clapper", "Bell plate"][i] ?? `Striker ${i + 1}`,
    toleranceMs: i % 5 === 1 ? 3 : 2,
    reference: i === 0,
    onBarrel: i !== 0
  }));
  const hits = [];
  const groups = [];
  for (const { id, reference } of channels) {
    const lean = reference ? 0 : 1.6 * normal();
    for (const sector2 of sectors) {
      const offset = reference ? 0 : lean + 1.5 * normal();
      const values = [];
      for (let pin = 0; pin < pinsASector; pin++) {
        const pinMs = offset + (reference ? 0.05 : 0.5) * normal();
        const step = sector2.from + Math.floor((pin + next()) / pinsASector * stepsASector);
        for (let turn = 0; turn < turns; turn++) {
          const latenessMs = pinMs + 0.3 * normal();
          values.push(latenessMs);
          hits.push(hit(id, sector2.id, latenessMs, { step, turn, timeS: turn * 30 + step / 16 }));
        }
      }
      const mean2 = values.reduce((a, b) => a + b, 0) / Math.max(1, values.length);
      const known2 = values.length > 2;
      groups.push({
        channel: id,
        sector: sector2.id,
        count: values.length,
        meanMs: known2 ? mean2 : null,
        medianMs: known2 ? mean2 : null,
        sdMs: known2 ? 0.6 : null,
        ci95Ms: known2 ? 0.65 / Math.sqrt(values.length) + 0.05 : null,
        pinSdMs: known2 ? 0.5 : null,
        repeatabilityMs: known2 ? 0.3 : null
      });
    }
  }
  const report2 = exampleReport();
  return {
    ...report2,
    channels,
    barrel: { steps: sectorCount * stepsASector, stepsPerBeat: 4, sectors },
    hits,
    groups,
    pins: []
  };
}

// analysis/report/parse.ts
import { parse as parseJsonc, printParseErrorCode } from "jsonc-parser";

// analysis/problem.ts
var InputProblem = class extends Error {
  /**
   * @param file  path or name of the file at fault, as the person knows it
   * @param place where in the file: "line 3", "byte 44", "channels[1].id"; empty when it is the file as a whole
   * @param what  what is wrong, without a full stop
   * @param mend  what the person can do, without a full stop
   */
  constructor(file, place, what, mend) {
    super([file, place, `${what}; ${mend}`].filter((part) => part !== "").join(": "));
    this.file = file;
    this.place = place;
    this.what = what;
    this.mend = mend;
  }
  file;
  place;
  what;
  mend;
  name = "InputProblem";
};

// analysis/report/parse.ts
var again = "analyse the take again to write it anew";
function parseReport(file, text) {
  const value = readJson(file, text);
  const schema = typeof value === "object" && value !== null ? value.schema : void 0;
  if (typeof schema === "number" && schema > 1) {
    const what = `it has schema ${schema}, and this version of Shimwright reads schema 1`;
    throw new InputProblem(
      file,
      "schema",
      what,
      "use a newer Shimwright, or analyse the take again with this one"
    );
  }
  const result = reportSchema.safeParse(value);
  if (result.success) return result.data;
  const [issue] = result.error.issues;
  throw new InputProblem(file, jsonPath(issue.path), describe(issue), again);
}
function readJson(file, text) {
  const bare = text.replace(/^\uFEFF/, "");
  try {
    return JSON.parse(bare);
  } catch {
    const errors = [];
    parseJsonc(bare, errors, { disallowComments: true });
    const offset = errors[0]?.offset ?? bare.length;
    const line = bare.slice(0, offset).split("\n").length;
    const reason = errors[0] === void 0 ? "unexpected text" : words(printParseErrorCode(errors[0].error));
    throw new InputProblem(file, `line ${line}`, `it is not JSON (${reason})`, again);
  }
}
function words(code) {
  return code.replace(/(?<=.)([A-Z])/g, " $1").toLowerCase();
}
function jsonPath(path) {
  return path.map((key) => typeof key === "number" ? `[${key}]` : `.${String(key)}`).join("").replace(/^\./, "");
}
function describe(issue) {
  return issue.message.replace(/^Invalid (input|option): /, "").replaceAll("\n", " ");
}

// ../../tmp/prof.ts
var [which, theme, width, out] = process.argv.slice(2);
var house = await PageHouse.open();
var report = which === "example" ? exampleReport() : which === "large" ? barrelReport(40, 12, 60, 7) : parseReport("r", readFileSync(which, "utf8"));
var open = await house.page(theme, () => void 0, Number(width), 900);
var t = Date.now();
await open.page.waitForTimeout(300);
var message = messageOf(report);
var client = await open.page.context().newCDPSession(open.page);
await client.send("Profiler.enable");
await client.send("Profiler.start");
var ms = await open.page.evaluate((data) => new Promise((settle) => {
  const start = performance.now();
  window.postMessage(data, "*");
  const watch = () => document.querySelector("[data-run]") === null ? requestAnimationFrame(watch) : requestAnimationFrame(() => settle(performance.now() - start));
  requestAnimationFrame(watch);
}), message);
var { profile } = await client.send("Profiler.stop");
var self = /* @__PURE__ */ new Map();
var byId = new Map(profile.nodes.map((n) => [n.id, n]));
profile.samples.forEach((id, i) => {
  const n = byId.get(id);
  const key = n.callFrame.functionName + ":" + n.callFrame.lineNumber;
  self.set(key, (self.get(key) ?? 0) + profile.timeDeltas[i] / 1e3);
});
console.log([...self].sort((a, b) => b[1] - a[1]).slice(0, 22).map(([k, v]) => k + " " + v.toFixed(0)).join("\n"));
console.log("from posted to drawn", ms);
console.log("shown after", Date.now() - t, "ms", report.hits.length);
await open.page.waitForTimeout(300);
if (process.argv[6]) await open.page.evaluate(process.argv[6]);
await open.page.waitForTimeout(500);
await open.page.screenshot({ path: out, fullPage: which !== "large" });
console.log(open.complaints, await open.page.evaluate(() => window.refused));
await house.close();
