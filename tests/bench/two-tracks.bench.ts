/** Two tracks, with two and with three strikers: every group mean against the truth, the pin in the wrong hole. */
import { recordingsMissing } from '../rig/recordings.ts';
import { twoTracks } from '../rig/two-tracks.ts';
import { figure, type Table } from './bench.ts';

const seeds = 24;

export default async function bench(): Promise<Table[]> {
  const title = 'Two tracks of two and three strikers, 30 dB, bleed −20 dB, started mid-turn';
  if (recordingsMissing) return [{ title, columns: ['take'], rows: [], notes: [recordingsMissing] }];
  const takes = [];
  for (let seed = 1; seed <= seeds; seed++) takes.push({ seed, ...(await twoTracks(seed)) });
  const share = (yes: number, of: number) => `${yes} of ${of}`;
  return [
    {
      title,
      columns: ['sounds', 'seed', 'group means', 'worst ms', 'in interval', 'misplaced named', 'invented'],
      rows: takes.map((take) => [
        take.sounds.join(', '),
        String(take.seed),
        share(take.given, take.asked),
        figure(take.worstMs),
        share(take.covered, take.given),
        take.named ? 'yes' : 'no',
        String(take.invented),
      ]),
      notes: [
        'Sounds are drawn by chance from all recordings, at one and the same power; the pin in the wrong hole too.',
        `Asked: every group mean within 0.7 ms (${share(takes.filter(({ worstMs }) => worstMs <= 0.7).length, seeds)} takes),`,
        `every misplaced pin named (${share(takes.filter(({ named }) => named).length, seeds)}), none invented (${takes.reduce((sum, { invented }) => sum + invented, 0)} invented).`,
      ],
    },
  ];
}
