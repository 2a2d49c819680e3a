/**
 * A recording in which somebody strikes each striker by hand for a while, one after another with silence between: where
 * in it each is struck, and how loudly every track hears it.
 */
import { median } from '../../numbers/statistics.ts';
import { clearlyOverNoiseDb, type OnsetCandidates } from '../detect/listen.ts';

/** One striker struck by itself. */
export interface Stretch {
  /** From before its first strike to the next striker's stretch, or the end, s. */
  readonly fromS: number;
  readonly toS: number;
  /** When the first and the last of its strikes sounded, s. */
  readonly firstS: number;
  readonly lastS: number;
  readonly strikes: number;
  /** For each track how loud a usual strike peaks there, dB of full scale; that of the noise where it hears none. */
  readonly levelDb: readonly number[];
  /** For each track the same over its noise, dB. */
  readonly overNoiseDb: readonly number[];
}

/** What the sweep found on a track, and its rate, Hz. */
export interface SweptTrack {
  readonly sampleRate: number;
  readonly detected: OnsetCandidates;
}

/** Silence of so long, s, ends a striker; somebody who strikes once a second never pauses for so long. Common practice, no source. */
export const pauseS = 3;
/** Fewer strikes are a stand that was knocked, or a door. */
export const fewestStrikes = 3;
/** Nobody strikes by hand so fast, s: what comes sooner rings or rebounds. */
const apartS = 0.15;
/** Tracks hear a strike within this of one another, s: 20 m of air. */
const sameS = 0.06;
/** A strike stands so far over what rang before it, as a ratio. */
const rise = 1.3;
/** A hand strikes within this of its usual strike, dB. Common practice, no source. */
const faintDb = 15;
/** A strike's stretch begins so long before it, s: room for a voice that swells. */
const leadS = 0.5;

const decibels = (size: number) => 20 * Math.log10(Math.max(size, 1e-7));

/**
 * @param durationS of the recording
 * @param silenceS  ends a striker; Infinity where the recording is of one alone
 */
export function soloStretches(
  tracks: readonly SweptTrack[],
  durationS: number,
  silenceS = pauseS,
): Stretch[] {
  const noiseDb = tracks.map(({ detected }) => decibels(Math.sqrt(detected.noisePower)));
  const heard = tracks.map((track, t) => clearStrikes(track, noiseDb[t]));
  const groups = byPauses(merged(heard.flat()), silenceS);
  const used = groups.map(withoutFaint).filter((group) => group.length >= fewestStrikes);
  return used.map((group, i) => {
    const levelDb = heard.map((own, t) => {
      const peaks = group.map((timeS) => {
        const near = own.filter((strike) => Math.abs(strike.timeS - timeS) <= sameS);
        return Math.max(noiseDb[t], ...near.map(({ levelDb }) => levelDb));
      });
      return median(peaks);
    });
    const fromS = Math.max(0, group[0] - leadS);
    return {
      fromS,
      toS: i + 1 < used.length ? Math.max(fromS, used[i + 1][0] - leadS) : durationS,
      firstS: group[0],
      lastS: group[group.length - 1],
      strikes: group.length,
      levelDb,
      overNoiseDb: levelDb.map((level, t) => level - noiseDb[t]),
    };
  });
}

interface ClearStrike {
  readonly timeS: number;
  readonly levelDb: number;
  readonly overNoiseDb: number;
}

function clearStrikes({ sampleRate, detected }: SweptTrack, noiseDb: number): ClearStrike[] {
  const { at, peak, peakBefore } = detected;
  const strikes = Array.from(at, (sample, m) => {
    const levelDb = decibels(peak[m]);
    return { timeS: sample / sampleRate, levelDb, overNoiseDb: levelDb - noiseDb };
  });
  return strikes.filter(
    ({ overNoiseDb }, m) => overNoiseDb >= clearlyOverNoiseDb && peak[m] > rise * peakBefore[m],
  );
}

type Struck = Pick<ClearStrike, 'timeS' | 'overNoiseDb'>;

/** One a strike: the earliest track's time, the clearest track's loudness. */
function merged(heard: readonly ClearStrike[]): Struck[] {
  const out: Struck[] = [];
  for (const { timeS, overNoiseDb } of [...heard].sort((a, b) => a.timeS - b.timeS)) {
    const last = out.at(-1);
    if (last === undefined || timeS - last.timeS > apartS) out.push({ timeS, overNoiseDb });
    else if (overNoiseDb > last.overNoiseDb) out[out.length - 1] = { timeS: last.timeS, overNoiseDb };
  }
  return out;
}

/** What still rings rises now and then as a strike does, and is faint beside one. */
function withoutFaint(group: readonly Struck[]): number[] {
  const usual = median(group.map(({ overNoiseDb }) => overNoiseDb));
  return group.flatMap(({ timeS, overNoiseDb }) => (overNoiseDb < usual - faintDb ? [] : [timeS]));
}

function byPauses(strikes: readonly Struck[], silenceS: number): Struck[][] {
  const groups: Struck[][] = [];
  strikes.forEach((strike, i) => {
    if (i === 0 || strike.timeS - strikes[i - 1].timeS >= silenceS) groups.push([]);
    groups[groups.length - 1].push(strike);
  });
  return groups;
}
