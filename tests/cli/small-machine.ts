/**
 * A machine small enough to check by hand, in a temporary folder, with takes of markers alone: 16 steps a turn, two
 * sectors, 120 beats a minute, so a step is 125 ms and a turn 2 s. One shim is 1000·0.1·2/(π·100) = 0.637 ms.
 */
import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  realpathSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import { seededRandom } from '../../samples/random.ts';

export const machineText = `// A barrel for tests; this comment stays
{
  "name": "Weir Lane test barrel",
  "barrel": { "steps": 16, "stepsPerBeat": 4, "diameterMm": 100,
              "sectors": [ { "id": "A", "from": 0 }, { "id": "B", "from": 8 } ] },
  "reference": "block",
  "channels": [
    { "id": "block", "onBarrel": false },
    { "id": "drum", "name": "Low drum", "toleranceMs": 1 }, // said to be fussy
    { "id": "bell" },
  ],
  "adjusters": [
    { "id": "joint-AB", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "sectors": ["B"] },
      "installed": 3, "min": 0, "max": 8 },
    { "id": "lever-drum", "unit": "shim", "perUnit": { "mm": 0.1 }, "shifts": { "channels": ["drum"] }, "installed": 5, "min": 0, "max": 9 }
  ]
}
`;

const pins: readonly (readonly [step: number, channel: string])[] = [
  ...[0, 2, 4, 6, 8, 10, 12, 14].map((step) => [step, 'block'] as const),
  ...[0, 3, 6, 9, 12, 15].map((step) => [step, 'drum'] as const),
  ...[1, 5, 7, 10, 13].map((step) => [step, 'bell'] as const),
];

export const patternText = `step,channel\n${pins.map((pin) => pin.join(',')).join('\n')}\n`;

/** How late the channels are, ms, everywhere and in sector B besides. */
export interface Lateness {
  readonly drum?: number;
  readonly bell?: number;
  readonly sectorB?: number;
}

/** Marker text of eight turns: each strike with its channel's lateness and 0.1 ms of chance. */
export function markers({ drum = 0, bell = 0, sectorB = 0 }: Lateness = {}, seed = 1, bpm = 120): string {
  const stepS = 15 / bpm;
  const chance = seededRandom(seed);
  const rows = [];
  for (let turn = 0; turn < 8; turn++)
    for (const [step, channel] of pins) {
      const late = channel === 'block' ? 0 : (channel === 'drum' ? drum : bell) + (step >= 8 ? sectorB : 0);
      const timeS = 0.5 + (turn * 16 + step) * stepS + (late + chance.normal() * 0.1) / 1000;
      rows.push({ timeS, channel });
    }
  rows.sort((a, b) => a.timeS - b.timeS);
  return `time,label\n${rows.map(({ timeS, channel }) => `${timeS.toFixed(7)},${channel}`).join('\n')}\n`;
}

/** A temporary folder with the machine and the files named beside it. */
export function makeMachine(files: Readonly<Record<string, string>> = {}): string {
  const root = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-cli-')));
  put(root, { 'machine.jsonc': machineText, 'pattern.csv': patternText, ...files });
  return root;
}

export function put(root: string, files: Readonly<Record<string, string | Uint8Array>>): void {
  for (const [name, content] of Object.entries(files)) {
    mkdirSync(dirname(join(root, name)), { recursive: true });
    writeFileSync(join(root, name), content);
  }
}

/** Every file below a folder with its contents and age: two equal trees mean that nothing was written. */
export function tree(root: string): Record<string, string> {
  const files: Record<string, string> = {};
  for (const entry of readdirSync(root, { withFileTypes: true, recursive: true })) {
    const path = join(entry.parentPath, entry.name);
    if (entry.isFile())
      files[path.slice(root.length + 1)] = `${statSync(path).mtimeMs} ${readFileSync(path, 'latin1')}`;
  }
  return files;
}

/** A saved voice of its drum, too short for any real one. */
export const drumVoice: SavedVoice = {
  schema: 1,
  channel: 'drum',
  take: 'solo',
  sampleRate: 48_000,
  strikes: 8,
  onset: 1,
  spread: 0,
  peak: 0.5,
  samples: [0, 0, 32_767, -20_000],
};
