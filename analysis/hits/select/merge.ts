/**
 * Makes one list of what the tracks heard: each strike once. A channel is timed on one track, the one that hears it
 * clearest, so that the way from striker to microphone is the same for all its strikes; another track's word counts only
 * for strikes that the first did not hear, its own way taken off.
 */
import { bisector } from 'd3-array';
import { median } from '../../numbers/statistics.ts';
import type { Take } from '../../take/take.ts';
import { withoutBleed } from './alone.ts';
import type { Found, RejectedHit } from './found.ts';
import { backAgainS } from '../explain/strike.ts';
import type { TrackStrikes } from '../explain/track.ts';

/** One strike as two microphones hear it: 8 ms are 2.7 m of air. */
const betweenMicrophonesS = 0.008;

/** One channel on one track. */
interface Part {
  readonly track: number;
  readonly strikes: readonly Found[];
  /** Median standard deviation of its times, s: how clearly it is heard. */
  readonly clarityS: number;
}

/** @param labels for each track, for each of its voices, a channel or −1 */
export function mergeTracks(
  heard: readonly TrackStrikes[],
  labels: readonly (readonly number[])[],
  take: Take,
  channels: number,
): { readonly kept: readonly Found[]; readonly rejected: readonly RejectedHit[] } {
  const merged: Found[] = [];
  const rejected: RejectedHit[] = [];
  for (let channel = 0; channel < channels; channel++) {
    const parts = heard.flatMap((track, t): Part[] => {
      if (!take.tracks[t].channels.includes(channel)) return [];
      const strikes = track.strikes
        .filter((strike) => labels[t][strike.voice] === channel)
        .map(({ timeS, timeSdS, peak, masked }) => ({
          timeS,
          timeSdS,
          peak,
          track: t,
          channel,
          why: masked ? 'masked' : null,
        }));
      if (strikes.length === 0) return [];
      return [{ track: t, strikes, clarityS: median(strikes.map((s) => s.timeSdS)) }];
    });
    // Many strikes before clear ones: a track that hears few of them is not where the channel is.
    parts.sort((a, b) => score(b) - score(a) || a.track - b.track);
    let kept: Found[] = [];
    for (const part of parts) {
      const shared = take.tracks[part.track].channels.length > 1;
      const all = kept.length > 0 ? withMissing(kept, part.strikes) : part.strikes;
      // Where a channel has a track to itself, what seems to strike again too soon is part of the strike's own sound.
      const once = notBackAgain(all, kept.length > 0 || shared ? betweenMicrophonesS : backAgainS);
      kept = once.kept;
      rejected.push(...once.rejected);
    }
    merged.push(...kept);
  }
  const own = withoutBleed(merged);
  return { kept: own.kept, rejected: [...rejected, ...own.rejected] };
}

function score(part: Part): number {
  return part.strikes.length / Math.max(part.clarityS, 1e-9) ** 0.5;
}

/** Adds the strikes that have no twin, after taking off how much later this track hears the ones that have. */
function withMissing(kept: readonly Found[], more: readonly Found[]): Found[] {
  const twins = more.map((strike) => nearest(kept, strike.timeS));
  const apart = more.flatMap((strike, i) => {
    const twin = twins[i];
    return twin && Math.abs(strike.timeS - twin.timeS) <= betweenMicrophonesS
      ? [strike.timeS - twin.timeS]
      : [];
  });
  const later = apart.length > 0 ? median(apart) : 0;
  const added = more.filter((strike, i) => {
    const twin = twins[i];
    return !twin || Math.abs(strike.timeS - later - twin.timeS) > betweenMicrophonesS;
  });
  return [...kept, ...added.map((strike) => ({ ...strike, timeS: strike.timeS - later }))];
}

/** Ascending; of strikes of one channel that lie nearer than `apartS` the loudest. */
function notBackAgain(
  strikes: readonly Found[],
  apartS: number,
): { readonly kept: Found[]; readonly rejected: readonly RejectedHit[] } {
  const kept: Found[] = [];
  const rejected: RejectedHit[] = [];
  for (const strike of [...strikes].sort((a, b) => a.timeS - b.timeS)) {
    const last = kept.at(-1);
    if (last && strike.timeS - last.timeS < apartS) {
      const [louder, fainter] = strike.peak > last.peak ? [strike, last] : [last, strike];
      kept[kept.length - 1] = louder;
      rejected.push({ ...fainter, why: 'same strike' });
    } else kept.push(strike);
  }
  return { kept, rejected };
}

const byTime = bisector((found: Found) => found.timeS);

/** The one nearest in time, of an ascending list. */
function nearest(list: readonly Found[], timeS: number): Found | null {
  const i = byTime.left(list, timeS);
  const after = list[i] as Found | undefined;
  const before = list[i - 1] as Found | undefined;
  if (!before || !after) return before ?? after ?? null;
  return timeS - before.timeS < after.timeS - timeS ? before : after;
}
