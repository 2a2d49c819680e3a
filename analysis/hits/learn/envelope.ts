/**
 * A sound that does not repeat as a waveform: rattle, brush, shaker, cymbal are new noise at every strike. What repeats
 * is how its power rises and falls in each frequency band. The power of a band over a hop is gamma distributed about
 * its mean, so a strike's time is where the likelihood of all hops of all bands, the background's power known, is
 * greatest (a change-point likelihood: Basseville & Nikiforov 1993, ch. 2, with the envelope as what comes after).
 *
 * All filters look only back in time, so that nothing seems to begin before it does.
 */
import { median, robustSd } from '../../numbers/statistics.ts';
import type { Background } from '../signal/background.ts';
import type { Frame } from '../signal/clip.ts';

/** Resolution of the powers, s: a few independent values in the widest bands, an eighth of what a shim does. */
const hopS = 0.00025;
/** Centres of the bands, Hz; an octave apart and an octave wide. */
const centresHz = [350, 700, 1400, 2800, 5600, 11_200];
const octaveQ = 1.41;
/** Before a strike's onset and after it, s: what a template spans. */
const leadS = 0.01;
const bodyS = 0.08;
/** Rounds of laying the strikes on their mean and averaging anew. */
const rounds = 4;
/**
 * What a template seems to hold below this share of its peak in a band is not relied on: without it one grain before the
 * usual beginning outweighs all that follows. Of 0.001 to 0.1 the smallest left the least scatter (4 kinds, 40 strikes each).
 */
const floorShare = 0.001;
/** Strikes enough for a template. */
const fewest = 4;

/** Mean power by hop and band, hop after hop. The last column is of all bands together. */
interface Powers {
  readonly hops: number;
  readonly power: Float64Array;
}

export interface Envelope {
  readonly bands: number;
  readonly hop: number;
  /** As long as the template is; power for a gain of 1, background taken off, hop after hop, band by band. */
  readonly power: Float64Array;
  readonly hops: number;
  /** Mean power of the background in each band. */
  readonly quiet: Float64Array;
  /** Independent values in a hop, by band. */
  readonly freedom: Float64Array;
  /** Standard deviation of a strike's place beyond what the likelihood's curvature says, hops. */
  readonly ownSd: number;
  /** Hops from the template's first to where the sound begins, fractional, and its standard deviation. */
  readonly onset: number;
  readonly onsetSd: number;
  /** Hops after the onset until nine tenths of its energy have sounded. */
  readonly lasts: number;
  readonly count: number;
}

/** Where an envelope lies in a clip. */
export interface EnvelopeFit {
  /** Samples from the clip's first to the onset. */
  readonly onset: number;
  readonly sd: number;
  /** Power gain against the template. */
  readonly gain: number;
  /** Log-likelihood ratio against the background alone. */
  readonly strength: number;
}

/**
 * Learns an envelope from clips in which it sounds about where the frame's moment lies.
 *
 * @returns null of too few, or where nothing rises in them
 */
export function learnEnvelope(
  clips: readonly Float64Array[],
  background: Background,
  frame: Frame,
): Envelope | null {
  if (clips.length < fewest) return null;
  const hop = Math.max(1, Math.round(hopS * frame.sampleRate));
  const heard = clips.map((samples) => powersOf(samples, background, hop, frame));
  const centres = bandsAt(frame.sampleRate);
  const bands = centres.length + 1;
  const lead = Math.round(leadS / hopS);
  const hops = lead + Math.round(bodyS / hopS);
  const moment = Math.round(frame.pre / hop);
  const reach = Math.round(frame.reach / hop);
  const quiet = quietOf(heard, bands, moment - reach);
  const freedom = Float64Array.from({ length: bands }, (_, b) =>
    // An octave's band has 0.7 of its centre for a width; two independent values a hertz and second.
    b === bands - 1 ? 0 : Math.min(hop, 2 * 0.7 * centres[b] * hopS),
  );
  // To begin with: something that begins at once and falls slowly, in the bands in which the clips have most.
  const spectrum = Float64Array.from({ length: bands }, (_, b) =>
    median(
      heard.map(({ power }) => Math.max(0, meanOver(power, bands, b, moment, moment + lead) - quiet[b])),
    ),
  );
  const power = new Float64Array(hops * bands);
  for (let h = lead; h < hops; h++)
    for (let b = 0; b < bands; b++) power[h * bands + b] = spectrum[b] * Math.exp(-(h - lead) / (2 * lead));
  if (!spectrum.some((s, b) => s > quiet[b])) return null;
  const envelope: Envelope = {
    bands,
    hop,
    power,
    hops,
    quiet,
    freedom,
    ownSd: 0,
    onset: lead,
    onsetSd: NaN,
    lasts: hops - lead,
    count: clips.length,
  };
  const around = moment - lead;
  const learnt = (from: readonly Powers[]) => {
    let mean = envelope;
    for (let round = 0; round < rounds; round++) {
      const fits = from.map((each) => lay(each, mean, around, reach));
      mean = { ...mean, power: averaged(from, fits, mean) };
      mean = { ...mean, freedom: freedomOf(from, fits, mean, freedom) };
    }
    return mean;
  };
  const all = learnt(heard);
  // A strike lies on a mean that it is part of better than it should: laid on the means of either half of the strikes, it
  // shows by how much. That is what its time is uncertain by beyond the likelihood's curvature.
  const halves = [0, 1].map((half) => learnt(heard.filter((_, k) => k % 2 === half)));
  const apart = heard.map((each) => {
    const [a, b] = halves.map((half) => lay(each, half, around, reach).at);
    return a - b;
  });
  const ownSd = robustSd(apart);
  const typical = typicalPower(
    heard,
    heard.map((each) => lay(each, all, around, reach)),
    all,
  );
  return { ...all, ownSd, ...onsetOf(all, typical, { lead, count: clips.length, sd: ownSd }) };
}

/** Lays an envelope on a clip whose onset is sought within `reach` samples of `around`. */
export function fitEnvelope(
  samples: Float64Array,
  envelope: Envelope,
  background: Background,
  frame: Frame,
  { around, reach }: { readonly around: number; readonly reach: number },
): EnvelopeFit {
  const { hop, onset, ownSd } = envelope;
  const heard = powersOf(samples, background, hop, frame);
  const fit = lay(heard, envelope, Math.round(around / hop - onset), Math.ceil(reach / hop));
  return {
    onset: (fit.at + onset) * hop,
    sd: Math.hypot(fit.sd, ownSd) * hop,
    gain: fit.gain,
    strength: fit.strength,
  };
}

interface Laid {
  /** Hops from the clip's first to the template's, fractional. */
  readonly at: number;
  readonly sd: number;
  readonly gain: number;
  readonly strength: number;
}

/** Hops just before where it is sought, from which the background there and then is told. */
const localHops = 24;

function lay({ power, hops }: Powers, envelope: Envelope, around: number, reach: number): Laid {
  const { bands, quiet } = envelope;
  const from = Math.max(0, around - reach);
  const to = Math.min(hops - 8, around + reach);
  // What still rings of earlier strikes is background here.
  const before = Math.max(0, from + Math.floor(envelope.onset) - localHops);
  const local = quiet.map((q, b) =>
    Math.max(q, meanOver(power, bands, b, before, Math.max(before + 1, from + Math.floor(envelope.onset)))),
  );
  let gain = 1;
  let best = { at: around, strength: -Infinity, sd: NaN };
  for (let pass = 0; pass < 3; pass++) {
    if (pass === 0) gain = strongest(power, envelope, local, from, to);
    else gain = gainAt(power, hops, envelope, local, Math.round(best.at));
    best = greatest(power, hops, envelope, { local, gain, from, to });
  }
  return { ...best, gain };
}

function peakOf({ power, bands }: Envelope, band: number): number {
  let peak = 0;
  for (let i = band; i < power.length; i += bands) peak = Math.max(peak, power[i]);
  return peak;
}

/** Likelihood at every hop from `from` to `to`; the greatest, between hops by a parabola. */
function greatest(
  power: Float64Array,
  hops: number,
  envelope: Envelope,
  at: {
    readonly local: Float64Array;
    readonly gain: number;
    readonly from: number;
    readonly to: number;
  },
): { at: number; strength: number; sd: number } {
  const { bands, freedom } = envelope;
  const { local, gain, from, to } = at;
  const floor = local.map((quiet, b) => quiet + floorShare * gain * peakOf(envelope, b));
  // For each hop and band of the template: what its power takes from the likelihood, and what each unit heard adds.
  const cost = new Float64Array(envelope.power.length);
  const credit = new Float64Array(envelope.power.length);
  for (let h = 0, i = 0; h < envelope.hops; h++)
    for (let b = 0; b < bands; b++, i++) {
      if (!(freedom[b] > 0) || !(local[b] > 0)) continue;
      const mean = floor[b] + gain * envelope.power[i];
      cost[i] = (freedom[b] / 2) * Math.log(mean / floor[b]);
      credit[i] = (freedom[b] / 2) * (1 / floor[b] - 1 / mean);
    }
  const values = new Float64Array(Math.max(0, to - from + 1));
  for (let d = from; d <= to; d++) {
    const until = Math.min(envelope.hops, hops - d);
    let sum = 0;
    for (let i = 0, j = d * bands, end = until * bands; i < end; i++, j++)
      sum += credit[i] * power[j] - cost[i];
    values[d - from] = sum;
  }
  let top = 0;
  for (let i = 1; i < values.length; i++) if (values[i] > values[top]) top = i;
  const left = values[top - 1] ?? -Infinity;
  const right = values[top + 1] ?? -Infinity;
  const bend = left + right - 2 * values[top];
  const inside = Number.isFinite(bend) && bend < 0;
  const shift = inside ? Math.max(-0.5, Math.min(0.5, (left - right) / (2 * bend))) : 0;
  return {
    at: from + top + shift,
    strength: values[top] ?? -Infinity,
    sd: inside ? Math.sqrt(-1 / bend) : 1,
  };
}

/** Power gain of the strongest stretch as long as the template's body: to start from. */
function strongest(
  power: Float64Array,
  envelope: Envelope,
  local: Float64Array,
  from: number,
  to: number,
): number {
  let best = 0;
  const hops = power.length / envelope.bands;
  for (let d = from; d <= to; d += 4) best = Math.max(best, gainAt(power, hops, envelope, local, d));
  return best;
}

/** Power gain at a place: by the bands and hops in which the template stands out. */
function gainAt(
  power: Float64Array,
  hops: number,
  { power: template, bands, freedom, hops: length }: Envelope,
  local: Float64Array,
  at: number,
): number {
  let heard = 0;
  let expected = 0;
  for (let h = 0; h < length && at + h < hops; h++) {
    if (at + h < 0) continue;
    for (let b = 0; b < bands; b++) {
      const e = template[h * bands + b];
      if (!(freedom[b] > 0) || !(e > local[b])) continue;
      const weight = freedom[b] / e;
      heard += weight * Math.max(0, power[(at + h) * bands + b] - local[b]);
      expected += weight * e;
    }
  }
  return expected > 0 ? Math.max(heard / expected, 1e-3) : 1;
}

/** Mean of the clips on each other, each over its gain, background taken off. */
function averaged(heard: readonly Powers[], fits: readonly Laid[], envelope: Envelope): Float64Array {
  const { bands, quiet, hops } = envelope;
  const sum = new Float64Array(hops * bands);
  const weights = new Float64Array(hops);
  // Clips whose likelihood is far below the usual hold something else.
  const usual = median(fits.map(({ strength }) => strength));
  heard.forEach(({ power, hops: length }, k) => {
    const { at, gain, strength } = fits[k];
    if (strength < usual / 4) return;
    const whole = Math.floor(at);
    const late = at - whole;
    for (let h = 0; h < hops; h++) {
      const i = whole + h;
      if (i < 0 || i + 1 >= length) continue;
      weights[h] += gain;
      for (let b = 0; b < bands; b++)
        sum[h * bands + b] +=
          (1 - late) * power[i * bands + b] + late * power[(i + 1) * bands + b] - quiet[b];
    }
  });
  for (let h = 0; h < hops; h++)
    for (let b = 0; b < bands; b++)
      sum[h * bands + b] = weights[h] > 0 ? Math.max(0, sum[h * bands + b] / weights[h]) : 0;
  return sum;
}

/** A sound begins where its amplitude is 1 % of its peak (as arrival.ts has it): this share of its power. */
const onsetShare = 1e-4;
/** A crossing between two hops, hops: of 24 envelopes of four kinds the beginnings lay 0.14 ms from the truth in the mean. */
const crossingSd = 0.6;
/** So many standard deviations of the average's own background stand for sound. */
const surely = 4;
/** Share of the rise that is looked at for where it began: below it the rise is steeper than a line in amplitude seldom. */
const nineTenths = 0.9;

/**
 * Power in all bands together by hop, the median of the strikes, each over its gain, background taken off. In their mean the
 * foot of the rise is that of the few strikes that were laid early: it begins two standard deviations of their places early.
 */
function typicalPower(heard: readonly Powers[], fits: readonly Laid[], { bands, hops, quiet }: Envelope) {
  const all = bands - 1;
  return Float64Array.from({ length: hops }, (_, h) => {
    const own = heard.flatMap(({ power, hops: length }, k) => {
      const whole = Math.floor(fits[k].at);
      const late = fits[k].at - whole;
      const i = whole + h;
      if (i < 0 || i + 1 >= length) return [];
      const there = (1 - late) * power[i * bands + all] + late * power[(i + 1) * bands + all];
      return [(there - quiet[all]) / fits[k].gain];
    });
    return own.length > 0 ? Math.max(0, median(own)) : 0;
  });
}

/** Back from the peak to where the typical strike's power sinks into what is left of the background, then on as it rose. */
function onsetOf(
  { bands, hops, quiet }: Envelope,
  typical: Float64Array,
  { lead, count, sd }: { readonly lead: number; readonly count: number; readonly sd: number },
): { readonly onset: number; readonly onsetSd: number; readonly lasts: number } {
  const all = bands - 1;
  const at = (h: number) => typical[h];
  let peak = 0;
  for (let h = 0; h < hops; h++) if (at(h) > at(peak)) peak = h;
  let before = 0;
  const early = Math.max(4, Math.min(lead - 8, peak - 8));
  for (let h = 0; h < early; h++) before += at(h) ** 2;
  // What an average of so many strikes' backgrounds still varies by, seen or, where all was cut at zero, foreseen.
  const noise = Math.max(Math.sqrt((2 * before) / early), quiet[all] / Math.sqrt(count) / 4);
  const threshold = Math.max(onsetShare * at(peak), surely * noise);
  const crossing = (level: number) => {
    let h = peak;
    while (h > 0 && at(h - 1) > level) h--;
    const [a, b] = [h > 0 ? at(h - 1) : 0, at(h)];
    // Powers are means over a hop, so a hop's value stands for its middle.
    return h - 1 + 0.5 + (b > a ? (level - a) / (b - a) : 1);
  };
  const seen = crossing(threshold);
  // In amplitude a rise is nearly a line: twice the amplitude, four times the power.
  const rise = Math.max(0, crossing(Math.min(4 * threshold, at(peak) / 2)) - seen);
  const unseen = rise * (1 - Math.sqrt((onsetShare * at(peak)) / threshold));
  let energy = 0;
  for (let h = Math.max(0, Math.floor(seen)); h < hops; h++) energy += at(h);
  let lasts = 0;
  for (let sum = 0, h = Math.max(0, Math.floor(seen)); h < hops && sum < nineTenths * energy; h++, lasts++)
    sum += at(h);
  return { onset: seen - unseen, onsetSd: Math.hypot(crossingSd, sd, unseen / 3), lasts };
}

/** A hop in which the template is so many times the background tells how much powers vary. */
const standsOut = 4;
/** Hops within which grains make powers vary together. */
const togetherHops = 4;

/**
 * How many independent values a hop has. Noise of a band's width has as many as its width and the hop allow; what
 * rattles is grains, whose powers vary more, in all bands at once and over neighbouring hops. So each band's values are as
 * many as its powers' own variance says (2 over it, as of a gamma distribution), and all are lessened by what blocks of
 * hops and bands vary more together than they would if they were independent.
 */
function freedomOf(
  heard: readonly Powers[],
  fits: readonly Laid[],
  { bands, hops, power, quiet }: Envelope,
  nominal: Float64Array,
): Float64Array {
  const squares = new Float64Array(bands);
  const counts = new Float64Array(bands);
  const eachRatio = (use: (k: number, h: number, b: number, above: number) => void) =>
    heard.forEach((each, k) => {
      const at = Math.round(fits[k].at);
      for (let h = 0; h < hops && at + h < each.hops; h++)
        for (let b = 0; b < bands - 1 && at + h >= 0; b++) {
          const mean = fits[k].gain * power[h * bands + b] + quiet[b];
          if (mean > standsOut * quiet[b]) use(k, h, b, each.power[(at + h) * bands + b] / mean - 1);
        }
    });
  eachRatio((_, __, b, above) => {
    // A single far value is another sound's.
    squares[b] += Math.min(above * above, 25);
    counts[b]++;
  });
  const own = nominal.map((n, b) =>
    counts[b] > 0 ? Math.min(n, (2 * counts[b]) / Math.max(squares[b], 1e-9)) : n,
  );
  const blocks = new Map<number, { sum: number; variance: number }>();
  eachRatio((k, h, b, above) => {
    const key = k * hops + Math.floor(h / togetherHops);
    const block = blocks.get(key) ?? { sum: 0, variance: 0 };
    block.sum += (own[b] / 2) * Math.min(above, 5);
    block.variance += own[b] / 2;
    blocks.set(key, block);
  });
  let [sum, variance] = [0, 0];
  for (const block of blocks.values()) {
    sum += block.sum ** 2;
    variance += block.variance;
  }
  const together = variance > 0 ? Math.max(1, sum / variance) : 1;
  return own.map((n) => n / together);
}

function quietOf(heard: readonly Powers[], bands: number, until: number): Float64Array {
  return Float64Array.from({ length: bands }, (_, b) =>
    Math.max(1e-18, median(heard.map(({ power }) => meanOver(power, bands, b, 4, Math.max(5, until))))),
  );
}

function meanOver(power: Float64Array, bands: number, band: number, from: number, to: number): number {
  let sum = 0;
  for (let h = from; h < to; h++) sum += power[h * bands + band];
  return sum / Math.max(1, to - from);
}

function bandsAt(sampleRate: number): readonly number[] {
  return centresHz.filter((hz) => hz * Math.SQRT2 < sampleRate / 2);
}

/** Powers of a clip by hop and band, after the filter that makes the background white. */
function powersOf(
  samples: Float64Array,
  { whitener }: Background,
  hop: number,
  { sampleRate }: Frame,
): Powers {
  const centres = bandsAt(sampleRate);
  const bands = centres.length + 1;
  const hops = Math.floor(samples.length / hop);
  const power = new Float64Array(hops * bands);
  const white = new Float64Array(samples.length);
  for (let i = 0; i < samples.length; i++) {
    let sum = 0;
    const taps = Math.min(whitener.length, i + 1);
    for (let k = 0; k < taps; k++) sum += whitener[k] * samples[i - k];
    white[i] = sum;
  }
  const add = (band: number, x: (i: number) => number) => {
    for (let h = 0, i = 0; h < hops; h++) {
      let sum = 0;
      for (const end = i + hop; i < end; i++) sum += x(i) ** 2;
      power[h * bands + band] = sum / hop;
    }
  };
  centres.forEach((hz, band) => {
    // Band-pass of two poles (bilinear transform): b0 (x[n] − x[n−2]) − a1 y[n−1] − a2 y[n−2].
    const w = (2 * Math.PI * hz) / sampleRate;
    const alpha = Math.sin(w) / (2 * octaveQ);
    const b0 = alpha / (1 + alpha);
    const a1 = (-2 * Math.cos(w)) / (1 + alpha);
    const a2 = (1 - alpha) / (1 + alpha);
    let [y1, y2] = [0, 0];
    add(band, (i) => {
      const y = b0 * (white[i] - (white[i - 2] ?? 0)) - a1 * y1 - a2 * y2;
      [y2, y1] = [y1, y];
      return y;
    });
  });
  add(centres.length, (i) => white[i]);
  return { hops, power };
}
