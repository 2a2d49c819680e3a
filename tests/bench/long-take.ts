/** A machine's folder with one long take: 96 kHz 24-bit stereo, two strikers a track, for what is measured over an hour. */
import { closeSync, openSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { bodies, strike } from '../../samples/strikes.ts';
import { writeWav } from '../../samples/wav.ts';
import { rigMachine } from '../rig/machine.ts';
import { makeTake } from '../rig/take.ts';

export const sampleRate = 96_000;
const channels = ['reference', 'drum', 'rim', 'bell'];
/** Five whole turns a minute, so that one minute after the other goes on where the last left off. */
const bpm = 120;
const turnsAMinute = 5;

/** Bytes of the file's header. */
export const headerBytes = 44;

/** Writes machine.jsonc and pattern.csv into `folder`; into `take` take.jsonc and take.wav. */
export function writeLongTake(folder: string, take: string, minutes: number): void {
  const machine = rigMachine({ channels, seed: 3 });
  const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 0.3]));
  const how = { bpm, turns: turnsAMinute, startPosition: -0.5 };
  const { strikes } = play(machine, { repeatabilityMs }, how, seededRandom(4));
  const sounds = [bodies.woodBlock, bodies.bassDrum, bodies.rim, bodies.bell].map((body, c) => [
    strike(body, sampleRate, seededRandom(5 + c)),
  ]);
  const { samples } = makeTake(machine, {
    sampleRate,
    durationS: 60,
    strikes,
    sounds,
    tracks: [
      [0, 1],
      [2, 3],
    ],
    snrDb: 40,
    gainDb: 2,
    seed: 6,
  });
  const minute = writeWav(sampleRate, samples, 'int24');
  const bytes = minute.length - headerBytes;
  const head = minute.slice(0, headerBytes);
  const view = new DataView(head.buffer);
  view.setUint32(4, headerBytes - 8 + minutes * bytes, true);
  view.setUint32(40, minutes * bytes, true);
  const file = openSync(join(take, 'take.wav'), 'w');
  writeSync(file, head);
  for (let i = 0; i < minutes; i++) writeSync(file, minute, headerBytes, bytes);
  closeSync(file);
  writeFileSync(join(folder, 'machine.jsonc'), JSON.stringify(machine.description));
  writeFileSync(
    join(folder, 'pattern.csv'),
    ['step,channel', ...machine.pins.map(({ step, channel }) => `${step},${channels[channel]}`), ''].join(
      '\n',
    ),
  );
  const tracks = [channels.slice(0, 2), channels.slice(2)].map((ids, track) => ({
    file: 'take.wav',
    track,
    channels: ids,
  }));
  writeFileSync(join(take, 'take.jsonc'), JSON.stringify({ tempo: bpm, tracks }));
}
