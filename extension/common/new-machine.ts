/** A first machine.jsonc, commented, and its pattern, from a few answers. */

export interface MachineAnswers {
  readonly name: string;
  /** Pin positions in one turn of the barrel. */
  readonly steps: number;
  readonly stepsPerBeat: number;
  /** Of the pin circle, mm. */
  readonly diameterMm: number;
  /** Number of separately bolted sectors, of equal length until said otherwise. */
  readonly sectors: number;
  /** Ids of the strikers; the first is the reference. */
  readonly channels: readonly string[];
}

/** Ids that a person typed with commas between. */
export function channelsIn(typed: string): string[] {
  return typed
    .split(',')
    .map((part) => part.trim())
    .filter((part) => part !== '');
}

/** The first that is there twice; null where none is. */
export function repeated(ids: readonly string[]): string | null {
  return ids.find((id, i) => ids.indexOf(id) < i) ?? null;
}

/** "A" to "Z", then "S27" and on. */
export function sectorName(index: number): string {
  return index < 26 ? String.fromCharCode(65 + index) : `S${index + 1}`;
}

/** @returns machine.jsonc and pattern.csv, which the machine's reader accepts as they are */
export function newMachine(answers: MachineAnswers): { readonly machine: string; readonly pattern: string } {
  const { name, steps, stepsPerBeat, diameterMm, sectors, channels } = answers;
  const json = (value: unknown) => JSON.stringify(value);
  const [reference, ...others] = channels;
  const sectorRows = Array.from({ length: sectors }, (_, i) => {
    const from = Math.round((i * steps) / sectors);
    return `      { "id": ${json(sectorName(i))}, "from": ${from} }`;
  });
  const joints = Array.from({ length: sectors - 1 }, (_, i) => {
    const moved = Array.from({ length: sectors - 1 - i }, (_, k) => sectorName(i + 1 + k));
    return `    { "id": "joint-${sectorName(i)}${sectorName(i + 1)}", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ${json(moved)} },
      "installed": 0, "min": 0, "max": 10 }`;
  });
  const levers = others.map(
    (
      id,
    ) => `    { "id": ${json(`lever-${id}`)}, "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "channels": ${json([id])} },
      "installed": 0, "min": 0, "max": 10 }`,
  );
  const machine = `// Comments are welcome and are kept. Rest the mouse on a key to read what it means.
{
  "name": ${json(name)},
  "barrel": {
    "steps": ${steps}, // pin positions in one turn
    "stepsPerBeat": ${stepsPerBeat},
    "diameterMm": ${diameterMm}, // of the pin circle
    // Each sector reaches from its first step to the next one's; the first is the anchor.
    "sectors": [
${sectorRows.join(',\n')}
    ]
  },
  "pattern": "pattern.csv",
  "reference": ${json(reference)}, // everything is timed against this channel
  "channels": [
    // On a shaft of its own, geared to the barrel? Then add "onBarrel": false
    { "id": ${json(reference)} }${others.length === 0 ? '' : ','}
${others.map((id) => `    { "id": ${json(id)}, "toleranceMs": 2 }`).join(',\n')}
  ],
  // What you can change on the machine. Correct what one unit does ("perUnit") and what is fitted now ("installed").
  // A positive perUnit makes what it shifts later.
  "adjusters": [
${[...joints, ...levers].join(',\n')}
  ]
}
`;
  const beats = Array.from({ length: Math.ceil(steps / stepsPerBeat) }, (_, i) =>
    Math.round(i * stepsPerBeat),
  );
  const pins = beats.filter((step) => step < steps).map((step) => `${step},${reference}`);
  const pattern = [
    '# One pin a row: its step (0 is the first) and its channel.',
    'step,channel',
    `# the reference, on every beat until you correct it`,
    ...pins,
    '# then the pins of the others',
    ...others.map((id, i) => `${Math.min(steps - 1, i)},${id}`),
    '',
  ];
  return { machine, pattern: pattern.join('\n') };
}
