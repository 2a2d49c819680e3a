/** One microphone in a room where someone talks, a motor hums and someone walks: what is heard that nobody struck. */
import { recordingsMissing } from '../rig/recordings.ts';
import { hearInRoom, rooms, type HeardInRoom } from '../rig/room-take.ts';
import { figure, type Table } from './bench.ts';

const takes = 6;

export default async function bench(): Promise<Table[]> {
  return [await measure('near'), await measure('far')];
}

async function measure(name: keyof typeof rooms): Promise<Table> {
  const levelsDb = rooms[name];
  const title = `Six takes of four strikers on one track, ${name}: talk at ${levelsDb.speech} dB of a strike, a motor's hum at ${levelsDb.hum} dB, footsteps at ${levelsDb.footsteps} dB`;
  if (recordingsMissing) return { title, columns: ['take'], rows: [], notes: [recordingsMissing] };
  const heard: HeardInRoom[] = [];
  for (let seed = 1; seed <= takes; seed++) heard.push(await hearInRoom(seed, levelsDb));
  const falseHits = heard.reduce((sum, { invented }) => sum + invented, 0);
  const minutes = heard.reduce((sum, { durationS }) => sum + durationS, 0) / 60;
  return {
    title,
    columns: ['sounds', 's', 'struck', 'missed', 'a swing off', 'false', 'worst F1', 'worst spread µs'],
    rows: heard.map(({ sounds, durationS, struck, missed, swingOff, invented, scores }) => [
      sounds.join(', '),
      figure(durationS),
      ...[struck, missed, swingOff, invented].map(String),
      figure(Math.min(...scores.map(({ f1 }) => f1))),
      figure(Math.max(...scores.map(({ spreadUs }) => spreadUs))),
    ]),
    notes: [
      'a swing off: a strike that was heard, but 5 to 20 ms from where it was; counted as missed too. false: nobody struck that channel within 20 ms.',
      `Asked: no more than 1 false hit a minute; ${figure(falseHits / minutes)} a minute over ${figure(minutes)} minutes.`,
    ],
  };
}
