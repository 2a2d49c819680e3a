/** The demo machine as its builders describe it. Place, names and story are invented. */

const channels = ['block', 'slat', 'drum', 'rim-left', 'rim-right', 'gong-low', 'gong-high', 'bell'] as const;
export type DemoChannel = (typeof channels)[number];

export const steps = 192;
const barSteps = 24;

/** machine.jsonc as it stands after the last round of adjustment. */
export const machineText = `// The rhythm barrel in the old weaving shed at Dunmarrow. Built over two winters; see notes/build.md.
{
  "name": "Dunmarrow weaving-shed barrel",

  // Six cast segments bolted into a ring. A is pinned to the shaft, so it is the anchor.
  "barrel": {
    "steps": 192,
    "stepsPerBeat": 6,
    "diameterMm": 760,
    "sectors": [
      { "id": "A", "from": 0, "name": "anchor, by the keyway" },
      { "id": "B", "from": 32 },
      { "id": "C", "from": 64 },
      { "id": "D", "from": 96, "name": "recast in spring" },
      { "id": "E", "from": 128 },
      { "id": "F", "from": 160 }
    ]
  },
  "pattern": "pattern.csv",

  // The block hangs on the crankshaft, not on the barrel: 32 strikes a turn, as even as the gears are.
  "reference": "block",
  "channels": [
    { "id": "block", "name": "Wood block on the crank", "onBarrel": false },
    { "id": "slat", "name": "Slat and board" },
    { "id": "drum", "name": "Bass drum, felt beater", "toleranceMs": 3 },
    { "id": "rim-left", "name": "Rim clapper, left" },
    { "id": "rim-right", "name": "Rim clapper, right" },
    { "id": "gong-low", "name": "Low gong", "toleranceMs": 3 },
    { "id": "gong-high", "name": "High gong" },
    { "id": "bell", "name": "Hand bell" }
  ],

  "adjusters": [
    // Between the segments: brass shims, 0.1 mm each. A joint moves everything after it, up to the anchor.
    { "id": "joint-AB", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["B", "C", "D", "E", "F"] }, "access": "ring guard", "installed": 3, "min": 0, "max": 12 },
    { "id": "joint-BC", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["C", "D", "E", "F"] }, "access": "ring guard", "installed": 8, "min": 0, "max": 12 },
    { "id": "joint-CD", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["D", "E", "F"] }, "access": "ring guard", "installed": 1, "min": 0, "max": 12 },
    { "id": "joint-DE", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["E", "F"] }, "access": "ring guard", "installed": 7, "min": 0, "max": 12 },
    { "id": "joint-EF", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["F"] }, "access": "ring guard", "installed": 7, "min": 0, "max": 12 },

    // Under the lever of each striker.
    { "id": "lever-slat", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "channels": ["slat"] }, "access": "gallery", "installed": 1, "min": 0, "max": 12 },
    { "id": "lever-rim-left", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "channels": ["rim-left"] }, "access": "gallery", "installed": 2, "min": 0, "max": 12 },
    { "id": "lever-rim-right", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "channels": ["rim-right"] }, "access": "gallery", "installed": 11, "min": 0, "max": 12 },
    { "id": "lever-gong-low", "unit": "shim", "perUnit": { "mm": 0.1, "leverRatio": 1.5 }, "shifts": { "channels": ["gong-low"] }, "access": "gallery", "installed": 9, "min": 0, "max": 12 },
    { "id": "lever-gong-high", "unit": "shim", "perUnit": { "mm": 0.1, "leverRatio": 1.5 }, "shifts": { "channels": ["gong-high"] }, "access": "gallery", "installed": 5, "min": 0, "max": 12 },
    { "id": "lever-bell", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "channels": ["bell"] }, "access": "gallery", "installed": 5, "min": 0, "max": 12 },

    // The beater falls 120 mm at setting 0. Higher is later, and louder.
    { "id": "drop-drum", "unit": "mm", "perUnit": { "dropMm": 1, "dropHeightMm": 120 }, "shifts": { "channels": ["drum"] }, "access": "gallery", "installed": -9, "min": -30, "max": 20 },

    // The collar that carries the block's cam, marked in degrees.
    { "id": "collar", "unit": "degree", "perUnit": { "degrees": 1, "turnsPerBarrelTurn": 32 }, "shifts": { "channels": ["block"] }, "installed": 0, "min": -15, "max": 15 }
  ],

  // Since the third round: what has to come off first, and what was left in the drawer.
  "access": [
    { "id": "ring guard", "openMinutes": 15, "changeMinutes": 8 },
    { "id": "gallery", "openMinutes": 5, "changeMinutes": 4 }
  ],
  "stock": [
    { "mm": 0.1, "count": 1 },
    { "mm": 0.2, "count": 4 }
  ],

  "limits": [
    {
      "adjusters": ["joint-AB", "joint-BC", "joint-CD", "joint-DE", "joint-EF"],
      "sumMax": 30,
      "why": "the gap between F and the anchor closes"
    }
  ],

  "drive": {
    "beatsPerOutputTurn": 1,
    "stages": [
      { "name": "worm gear", "ratio": 7.5 },
      { "name": "chain", "ratio": 2.4 }
    ]
  }
}
`;

/**
 * A bar of 24 steps in two forms, and the order of the forms over the eight bars of a turn. The orders differ, so
 * that the barrel looks like itself from one start only.
 */
const bars: Record<
  DemoChannel,
  { readonly A: readonly number[]; readonly B: readonly number[]; readonly order: string }
> = {
  block: { A: [0, 6, 12, 18], B: [], order: 'AAAAAAAA' },
  slat: { A: [5, 17], B: [11, 23], order: 'ABABABBA' },
  drum: { A: [0, 14], B: [0, 10, 15], order: 'AABABAAB' },
  'rim-left': { A: [4, 16], B: [4, 22], order: 'ABBAABAB' },
  'rim-right': { A: [8, 21], B: [9, 17], order: 'BAABABBA' },
  'gong-low': { A: [2], B: [2, 19], order: 'AAABAAAB' },
  'gong-high': { A: [11], B: [7, 19], order: 'BABAABBA' },
  bell: { A: [3, 20], B: [13], order: 'ABAABABA' },
};

/** pattern.csv: by step, then in the order of the channels. */
export function patternText(): string {
  const rows = channels.flatMap((channel, at) =>
    [...bars[channel].order].flatMap((form, bar) =>
      bars[channel][form as 'A' | 'B'].map((step) => ({ step: bar * barSteps + step, channel, at })),
    ),
  );
  rows.sort((a, b) => a.step - b.step || a.at - b.at);
  return ['step,channel', ...rows.map(({ step, channel }) => `${step},${channel}`), ''].join('\n');
}
