/**
 * Where several channels share a track, sounds are named by when the pattern has them due: a wrong tune names them wrongly, and
 * what is heard cannot tell. So where the named tune leaves much of a take unexplained, the take is heard as each other one.
 */
import { hearInStep, type HeardTake } from '../hits/hear-in-step.ts';
import type { SavedVoice } from '../hits/learn/saved-voice.ts';
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import type { Run } from '../ports.ts';
import { clearlyOther, leavesMuch, type LaidTune, type OtherTuneFit } from './other-tune.ts';
import { readingOf, withChannel } from './reading.ts';
import type { Take } from '../take/take.ts';

/**
 * @param read the take as it was read
 * @param heard it with the named tune's pattern
 * @returns null where no other tune explains it clearly better
 * @throws the signal's reason when the run is stopped
 */
export async function heardAsAnother(
  read: Take,
  heard: HeardTake,
  machine: Machine,
  run: Run,
  voices: readonly SavedVoice[] = [],
): Promise<OtherTuneFit | null> {
  const { tunes = [], tune } = machine;
  if (tunes.length < 2 || !read.tracks.some(({ channels }) => channels.length > 1)) return null;
  const named = laidAlong(heard, machine);
  if (!leavesMuch(named)) return null;
  const others: LaidTune[] = [];
  for (const { name } of tunes) {
    if (name === tune) continue;
    const other = ofTune(machine, name);
    others.push(laidAlong(await hearInStep(read, other, run, voices), other));
  }
  return clearlyOther(named, others);
}

function laidAlong({ take, hearing }: HeardTake, machine: Machine): LaidTune {
  const hits = withChannel(hearing.hits);
  return { machine, hits, reading: readingOf(take, machine, hits) };
}
