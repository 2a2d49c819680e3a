/** Which machine a recording is judged to be of: its own among several on one grid, others' alone, near twins; noise and talk. */
import type { WhichMachine } from '../../analysis/hits/which-machine.ts';
import { seededRandom } from '../../samples/random.ts';
import { speech } from '../rig/room.ts';
import { trackOf } from '../rig/take.ts';
import {
  judged,
  machineNamed,
  recorded,
  sampleRate,
  strikers,
  withOthersMoved,
} from '../hits/machines-heard.ts';
import { option, tell, type Table } from './bench.ts';

const takes = Number(option('takes', '60'));
const talks = Number(option('talks', '20'));

/** What became of takes of machine `own`; −1: of none of those asked. */
class Tally {
  readonly counts = { right: 0, perhaps: 0, either: 0, none: 0, wrong: 0, wronglyPerhaps: 0 };
  add(found: WhichMachine, own: number) {
    if (found.kind === 'none' || found.kind === 'either') this.counts[found.kind]++;
    else if (found.kind === 'fits') this.counts[found.machine === own ? 'right' : 'wrong']++;
    else this.counts[found.machine === own ? 'perhaps' : 'wronglyPerhaps']++;
  }
  row(name: string): string[] {
    return [name, ...Object.values(this.counts).map(String)];
  }
}

export default async function whichMachineBench(): Promise<Table[]> {
  const tallies = new Map<string, Tally>();
  const add = (name: string, found: WhichMachine, own: number) => {
    const tally = tallies.get(name) ?? new Tally();
    tallies.set(name, tally);
    tally.add(found, own);
  };
  for (let seed = 1; seed <= takes; seed++) {
    tell('takes', seed, takes);
    const random = seededRandom(1000 + seed);
    const machines = [0, 1, 2, 3].map((m) => machineNamed(10 * seed + m, [96, 96, 64, 120][m]));
    const own = seed % 2;
    const machine = machines[own];
    const snrDb = [30, 15, 8][seed % 3];
    const take = recorded({
      machine,
      sounds: strikers(machine.description.channels.length),
      bpm: random.between(70, 150),
      turns: [1.5, 2.5, 4][(seed >> 1) % 3],
      snrDb,
      misplaced: seed % 4,
      microphones: seed % 5 === 0 ? 2 : 1,
      seed,
    });
    const others = machines.filter((_, m) => m !== own);
    add(`its own among four, noise ${snrDb} dB below`, await judged(take, machines), own);
    add('its own alone', await judged(take, [machine]), 0);
    add('three others', await judged(take, others), -1);
    for (const count of [1, 3, 6])
      add(
        `its own and a twin with ${count} of its pins elsewhere`,
        await judged(take, [withOthersMoved(machine, count), machine]),
        1,
      );
    add('its own and one of its pattern', await judged(take, [machine, { ...machine }]), 0);
  }
  for (let seed = 1; seed <= talks; seed++) {
    tell('talk', seed, talks);
    const talk = trackOf(speech(90 * sampleRate, sampleRate, seed), sampleRate, []);
    add(
      'someone talking',
      await judged(
        { tracks: [talk] },
        [0, 1, 2].map((m) => machineNamed(10 * seed + m)),
      ),
      -1,
    );
  }
  return [
    {
      title: `Which machine a recording is of: ${takes} takes of 1.5 to 4 turns, up to three pins in wrong holes, one strike in 20 silent`,
      columns: ['asked', 'right', 'perhaps, right', 'either', 'none', 'wrong', 'perhaps, wrong'],
      rows: [...tallies].map(([name, tally]) => tally.row(name)),
      notes: [
        '"wrong" and "right" are what a person is offered as sure; all else says that it cannot be told',
      ],
    },
  ];
}
