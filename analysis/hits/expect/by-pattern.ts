/**
 * Hears a take whose tracks hold several channels' sounds, where the sure moments show how the barrel turned: the pattern
 * then says what was due when (guided.ts).
 */
import type { Machine } from '../../machine/machine.ts';
import type { RoughRotation } from '../../rotation/rotation.ts';
import { endlessPattern } from '../../rotation/pattern.ts';
import { roughRotationOf, type Moment } from '../../rotation/of-take.ts';
import type { Take, Track } from '../../take/take.ts';
import { ownVoices } from '../select/alone.ts';
import type { TakeContext } from '../context.ts';
import { hearGuided, type GuidedStrikes } from '../explain/guided.ts';
import type { OnsetCandidates } from '../detect/listen.ts';
import { prominence, type Prominence } from '../detect/prominence.ts';
import type { TrackStrikes } from '../explain/track.ts';
import { loudest, loudness, momentsIn } from './sure-moments.ts';
import type { Labelled } from './by-rhythm.ts';

/** Hears a track without the pattern; it may be asked for in several attempts. */
export type ByItself = (track: number, progress: (fraction: number) => void) => Promise<TrackStrikes>;

/** Share of a track's moments that must be another track's for it to be heard with the neighbours' sounds in mind. */
const muchBleed = 0.1;
/** A moment within this many steps of a pin of the track's own channels may be theirs, though a neighbour struck louder at once. */
const nearStep = 0.4;
/** Least share of a track's sure moments within `nearStep` of its own pins: with fewer, another pattern was played. */
const told = 0.5;

/** Of the moments marked in `chosen`, how many lie near a pin of the track's own channels, and how many do not. */
function atOwnPins(
  { channels, sampleRate }: Track,
  { at }: OnsetCandidates,
  chosen: Uint8Array,
  machine: Machine,
  rotation: RoughRotation,
): { near: number; far: number } {
  const pattern = endlessPattern(machine, []);
  const count = { near: 0, far: 0 };
  at.forEach((sample, m) => {
    if (chosen[m] !== 1) return;
    const position = rotation.positionAt(sample / sampleRate);
    const near = channels.some((c) => Math.abs(position - pattern.nearest(c, position)) <= nearStep);
    count[near ? 'near' : 'far']++;
  });
  return count;
}

/** The pattern counts as met where the track that heard most of it (`fulfilled`) heard this share; by chance a fifth is. */
const met = 0.75;
/**
 * Where what else sounds has bent the rotation here and there, it is found anew from the strikes that were heard, whose
 * channels are known, and the tracks are heard again, so often at most.
 */
const mostAgain = 2;

interface Guided extends Labelled {
  /** For each track what was heard by the pattern; null where it was heard by itself. */
  readonly guided: readonly (GuidedStrikes | null)[];
  /** Share of what the pattern asked for that was heard, on the track with most of it. */
  readonly fulfilled: number;
}

/** Where tracks hold several channels' sounds and the sure moments show how the barrel turned; null where not. */
export async function withPattern(context: TakeContext, byItself: ByItself): Promise<Labelled | null> {
  const { take, machine, detected: first } = context;
  if (take.tracks.length === 1 && take.tracks[0].channels.length === 1) return null;
  const prominent = prominence(first, take);
  const attempt = (loud: readonly Prominence[], rotation: RoughRotation, before: Guided | null) =>
    byPattern(context, byItself, loud, rotation, before);
  let best: Guided | null = null;
  let loud = prominent;
  for (const share of loudness) {
    const louder = prominent.map((each, t) => loudest(each, first[t], share));
    const tried = await attempt(louder, roughRotationOf(take, machine, momentsIn(take, first, louder)), null);
    if (tried === 'one channel a track') return null;
    if (tried && tried.fulfilled > (best?.fulfilled ?? told)) [best, loud] = [tried, louder];
    if (best && best.fulfilled >= met) break;
  }
  for (let again = 0; best?.guided.some((own) => own?.isBent) && again < mostAgain; again++) {
    const tried = await attempt(loud, roughRotationOf(take, machine, strikesIn(take, best)), best);
    if (tried === null || tried === 'one channel a track' || wrongIn(tried) > wrongIn(best)) break;
    best = tried;
  }
  return best;
}

function wrongIn({ guided }: Guided): number {
  return guided.reduce((sum, own) => sum + (own?.wrong ?? 0), 0);
}

/** @returns null where no rotation explains the moments, or no channel could be learnt */
async function byPattern(
  { take, machine, detected: first, saved, run, eachTrack }: TakeContext,
  byItself: ByItself,
  prominent: readonly Prominence[],
  rotation: RoughRotation,
  before: Guided | null,
): Promise<Guided | 'one channel a track' | null> {
  if (!rotation.found) return null;
  const counted = take.tracks.map((track, t) => ({
    sure: atOwnPins(track, first[t], prominent[t].sure, machine, rotation),
    bleed: atOwnPins(track, first[t], prominent[t].bleed, machine, rotation),
  }));
  if (counted.some(({ sure }) => sure.near < told * (sure.near + sure.far))) return null;
  const isMixed = take.tracks.map(
    ({ channels }, t) => channels.length > 1 || counted[t].bleed.far > muchBleed * first[t].at.length,
  );
  if (!isMixed.includes(true)) return 'one channel a track';
  const guided: (GuidedStrikes | null)[] = [];
  const heard = await eachTrack(async (t, progress): Promise<TrackStrikes> => {
    const track = take.tracks[t];
    const own = isMixed[t]
      ? await hearGuided(
          { track, machine, saved, run, progress, detected: first[t], prominence: prominent[t] },
          { rotation, before: before?.guided[t] ?? null },
        )
      : null;
    guided.push(own);
    return own ?? byItself(t, progress);
  });
  const alone = ownVoices(heard, take);
  return {
    heard,
    labels: guided.map((own, t) => own?.owners ?? alone[t]),
    unknown: [],
    guided,
    fulfilled: Math.max(...guided.map((own) => own?.fulfilled ?? 0)),
  };
}

/** Strikes whose channel is known. */
function strikesIn(take: Take, { heard, labels }: Labelled): Moment[] {
  return heard.flatMap(({ strikes }, t) =>
    strikes.flatMap(({ timeS, voice }) =>
      take.tracks[t].channels.includes(labels[t][voice]) ? [{ timeS, channels: [labels[t][voice]] }] : [],
    ),
  );
}
