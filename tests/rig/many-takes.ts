/** A folder with hundreds of analysed takes of a large machine, each with its markers. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { stringifyReport } from '../../analysis/report/report.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { barrelReport } from '../report/barrels.ts';
import { machineOf, withFaults } from '../simulator/machines.ts';
import { reportOf } from '../simulator/measure.ts';

export const manyChannels = 40;
export const manySectors = 12;

/** @returns the text of one report; the take "one-more", the last, has none */
export function writeManyTakes(folder: string, takes: number): string {
  const random = seededRandom(5);
  const faulty = withFaults(machineOf(manySectors, manyChannels, 9, random), random);
  const { machine, truth, bpm, turns } = faulty;
  const { description } = machine;
  const ids = description.channels.map(({ id }) => id);
  mkdirSync(folder, { recursive: true });
  writeFileSync(join(folder, 'machine.jsonc'), JSON.stringify(description));
  const pins = machine.pins.map(({ step, channel }) => `${step},${ids[channel]}`);
  writeFileSync(join(folder, description.pattern), ['step,channel', ...pins, ''].join('\n'));
  const settings = Object.fromEntries(description.adjusters.map(({ id, installed }) => [id, installed]));
  const channels = description.channels.map(({ id, toleranceMs, onBarrel }, i) => ({
    id,
    toleranceMs,
    onBarrel,
    reference: i === machine.reference,
  }));
  const { steps, stepsPerBeat, sectors } = description.barrel;
  const barrel = { steps, stepsPerBeat, sectors: sectors.map(({ id, from }) => ({ id, from })) };
  const { hits } = barrelReport(manyChannels, manySectors, 6, 7);
  let text = '';
  for (let t = 0; t <= takes; t++) {
    const name = t === takes ? 'one-more' : `take-${t}`;
    const recorded = new Date(Date.UTC(2020, 0, 1 + t)).toISOString();
    const played = play(machine, truth, { bpm, turns }, random);
    const take = join(folder, 'takes', name);
    mkdirSync(take, { recursive: true });
    writeFileSync(join(take, 'take.jsonc'), JSON.stringify({ recorded }));
    const strikes = played.strikes.filter(({ timeS }) => timeS >= 0).sort((a, b) => a.timeS - b.timeS);
    const rows = strikes.map(({ timeS, channel }) => `${timeS.toFixed(6)},${ids[channel]}`);
    writeFileSync(join(take, 'heard.csv'), ['time,label', ...rows, ''].join('\n'));
    if (t === takes) break;
    const report = reportOf(machine, played, bpm, name, settings);
    text = stringifyReport({ ...report, channels, barrel, recorded, hits });
    writeFileSync(join(take, 'report.json'), text);
  }
  return text;
}
