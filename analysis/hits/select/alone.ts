/**
 * Which voices are a channel's own where no pattern can tell: on a track that one channel has to itself. A neighbour's
 * bleed comes with a strike on the neighbour's own track, and is the weaker of the two against what this track's own
 * strikes are; what fits no other voice and comes once is noise.
 */
import type { Strike } from '../explain/strike.ts';
import { grouped } from '../../numbers/grouped.ts';
import { median } from '../../numbers/statistics.ts';
import type { Take } from '../../take/take.ts';
import type { Found, RejectedHit } from './found.ts';
import type { Rejection } from './rejected.ts';
import { nobody } from '../expect/label.ts';
import type { TrackStrikes } from '../explain/track.ts';

/** Bleed comes within this, s: 8 ms are 2.7 m of air. Wider than in detect/prominence.ts: here most of a voice’s strikes must agree. */
const bleedLagS = 0.008;
/** Share of a voice's strikes that must come with another track's for it to be that track's bleed. */
const mostly = 0.8;
/** How much weaker against the other track than this track's best voice, as a ratio of amplitudes: 6 dB. */
const weaker = 0.5;

/** @returns for each track, for each of its voices, the track's one channel or `nobody`; tracks with several channels: `nobody` */
export function ownVoices(heard: readonly TrackStrikes[], take: Take): number[][] {
  return heard.map((track, t) => {
    const { channels } = take.tracks[t];
    if (channels.length !== 1) return track.voices.map(() => nobody);
    const counts = track.voices.map((_, v) => track.strikes.filter((s) => s.voice === v).length);
    const peaks = track.voices.map((_, v) => {
      const its = track.strikes.filter((s) => s.voice === v).map((s) => s.peak);
      return its.length > 0 ? median(its) : 0;
    });
    const solid = counts.some((count) => count > 1);
    const own = new Set(track.voices.keys());
    heard.forEach((other, o) => {
      if (o === t || take.tracks[o].channels.some((c) => channels.includes(c))) return;
      const ratios = track.voices.map((_, v) =>
        against(
          track.strikes.filter((s) => s.voice === v),
          other.strikes,
        ),
      );
      const weighty = Math.max(2, 0.2 * Math.max(...counts));
      // What comes without the other track's strikes is no bleed of it, but a fainter sound may be a third one's bleed.
      const best = (peak: number) =>
        Math.max(
          ...ratios.map(({ ratio, share }, v) =>
            counts[v] <= weighty ? 0 : share >= mostly ? ratio : peaks[v] >= peak ? Infinity : 0,
          ),
        );
      ratios.forEach(({ ratio, share }, v) => {
        if (share >= mostly && ratio < weaker * best(peaks[v])) own.delete(v);
      });
    });
    return track.voices.map((_, v) => (own.has(v) && (counts[v] > 1 || !solid) ? channels[0] : nobody));
  });
}

/** How much stronger these strikes are than those of another track that come with them, and how many do. */
function against(strikes: readonly Strike[], others: readonly Strike[]): { ratio: number; share: number } {
  const ratios: number[] = [];
  let from = 0;
  for (const strike of strikes) {
    while (from < others.length && others[from].timeS < strike.timeS - bleedLagS) from++;
    let peak = 0;
    for (let i = from; i < others.length && others[i].timeS <= strike.timeS + bleedLagS; i++)
      peak = Math.max(peak, others[i].peak);
    if (peak > 0) ratios.push(strike.peak / peak);
  }
  return {
    ratio: ratios.length ? median(ratios) : Infinity,
    share: ratios.length / Math.max(1, strikes.length),
  };
}

/** A strike 9 dB below its channel's usual ones that comes with another track's stronger strike is that one's bleed. */
const unusual = 0.35;
/** What is 30 dB below them is nobody's strike. */
const faintest = 0.03;
/** Where bleed outnumbers strikes, the strikes are still the loudest tenth. */
const loud = 0.9;

/** The hits without those that another channel's strike has put on this one's track. */
export function withoutBleed(found: readonly Found[]): {
  readonly kept: Found[];
  readonly rejected: readonly RejectedHit[];
} {
  const usual = new Map<number, number>();
  for (const [channel, hits] of grouped(found, (hit) => hit.channel)) {
    const peaks = hits.map((hit) => hit.peak).sort((a, b) => a - b);
    usual.set(channel, peaks[Math.floor(loud * (peaks.length - 1))]);
  }
  const sorted = [...found].sort((a, b) => a.timeS - b.timeS);
  const bled = (hit: Found, other: Found | undefined) =>
    other !== undefined &&
    other.track !== hit.track &&
    other.channel !== hit.channel &&
    other.peak > hit.peak &&
    Math.abs(other.timeS - hit.timeS) <= bleedLagS;
  const reason = (hit: Found, i: number): Rejection | null => {
    if (hit.peak < faintest * usual.get(hit.channel)!) return 'faint';
    if (hit.peak >= unusual * usual.get(hit.channel)!) return null;
    for (let j = i - 1; j >= 0 && hit.timeS - sorted[j].timeS <= bleedLagS; j--)
      if (bled(hit, sorted[j])) return 'bleed';
    for (let j = i + 1; j < sorted.length && sorted[j].timeS - hit.timeS <= bleedLagS; j++)
      if (bled(hit, sorted[j])) return 'bleed';
    return null;
  };
  const kept: Found[] = [];
  const rejected: RejectedHit[] = [];
  sorted.forEach((hit, i) => {
    const why = reason(hit, i);
    if (why === null) kept.push(hit);
    else rejected.push({ ...hit, why });
  });
  return { kept, rejected };
}
