/** The clock of every file of a take, against the first file's. */
import type { Run } from '../ports.ts';
import type { Track } from '../take/take.ts';
import type { FileClock } from '../take/clock.ts';
import { compareSounds, type Compared } from './compare.ts';
import { onsetsOf, type Onsets } from './onsets.ts';
import { soundsOf, type FileSound } from './sound.ts';

/** A clock is not told from the first one's within so many standard deviations, or this: recorders differ by more. */
const driftSds = 4;
const leastDrift = 1e-6;
/** Beyond what air explains a beginning may lie so much and still be the same, s: how well a lag is told. */
const sameStartS = 0.0003;
/** Where only one side bounds it, sound's way there, s: up to 3 m. */
const oneSidedS = 0.009;

/** @returns one for each file, in the order of the tracks; none where the take has one file or fewer */
export async function findClocks(tracks: readonly Track[], run: Run): Promise<FileClock[]> {
  const sounds = soundsOf(tracks);
  if (sounds.length < 2) return [];
  const onsets: Onsets[] = [];
  for (const sound of sounds) onsets.push(await onsetsOf(sound, run));
  const clocks: FileClock[] = [first(sounds[0])];
  for (const [i, sound] of sounds.entries()) {
    if (i === 0) continue;
    clocks.push(
      await clockOf(i, sounds, onsets, clocks, run).then((clock) => clock ?? untold(sounds[0], sound)),
    );
  }
  return clocks;
}

/** Against the first file, or against another whose clock is known by then. */
async function clockOf(
  i: number,
  sounds: readonly FileSound[],
  onsets: readonly Onsets[],
  clocks: readonly FileClock[],
  run: Run,
): Promise<FileClock | null> {
  for (const [k, known] of clocks.entries()) {
    if (known.how === 'unknown' || known.how === 'said') continue;
    const found = await compareSounds(sounds[k], sounds[i], { a: onsets[k], b: onsets[i] }, run);
    if (found === null) continue;
    const isSame = inStep(found, sounds[k], sounds[i]);
    if (isSame) return { ...known, file: sounds[i].file, how: known.how === 'first' ? 'in-step' : known.how };
    return through(known, found, sounds[i].file);
  }
  return null;
}

function first({ file }: FileSound): FileClock {
  return { file, startS: 0, startSdS: 0, drift: 0, driftSd: 0, how: 'first' };
}

/** What the sound does not tell, equal lengths do: two recorders are never stopped at one sample. */
function untold(one: FileSound, other: FileSound): FileClock {
  const isOne =
    one.length === other.length && one.sampleRate === other.sampleRate && isExact(one) === isExact(other);
  return isOne
    ? { file: other.file, startS: 0, startSdS: 0, drift: 0, driftSd: 0, how: 'said' }
    : { file: other.file, startS: 0, startSdS: NaN, drift: 0, driftSd: NaN, how: 'unknown' };
}

/** Whether a file's first sample is the first that was recorded, as far as its codec says. */
function isExact({ tracks }: FileSound): boolean {
  return tracks[0].coding?.startKnown ?? true;
}

/**
 * One recorder's files begin together to a sample, two recorders' hardly ever within what sound's way through air explains:
 * so a beginning that may be the same, at a rate that may be the same, is.
 */
function inStep({ startS, airS, drift, driftSd }: Compared, a: FileSound, b: FileSound): boolean {
  if (isExact(a) !== isExact(b)) return false;
  const reachS = sameStartS + (Number.isFinite(airS) ? airS : oneSidedS);
  return Math.abs(startS) <= reachS && Math.abs(drift) <= Math.max(leastDrift, driftSds * driftSd);
}

/** A file's clock by the first file's, from its clock by another's. */
function through(known: FileClock, { startS, startSdS, drift, driftSd }: Compared, file: string): FileClock {
  return {
    file,
    startS: known.startS + (1 + known.drift) * startS,
    startSdS: Math.hypot(known.startSdS, startSdS),
    drift: (1 + known.drift) * (1 + drift) - 1,
    driftSd: Math.hypot(known.driftSd, driftSd),
    how: 'found',
  };
}
