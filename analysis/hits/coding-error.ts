/**
 * What a lossy codec does to a strike's time, in how well that time is known. Codecs that work in blocks smear an attack
 * ahead of itself (pre-echo), so that a sound seems to begin early: by the same for all strikes of a channel, by more for
 * sharp ones, and from one strike to the next by little.
 */
import type { Hearing, Hits } from './hits.ts';
import type { Machine } from '../machine/machine.ts';
import type { Group } from '../results/results.ts';
import type { Coding } from '../take/audio/coding.ts';
import type { Take } from '../take/take.ts';

export interface CodingError {
  /** Of where a channel's sound begins, s. */
  readonly onsetSdS: number;
  /** Of each strike besides, s. */
  readonly strikeSdS: number;
}

/**
 * By bits a second of a track, at most. Measured on real percussion at known times, 40 dB over noise, coded as AAC, Opus,
 * Vorbis and MP3: beginnings came 1 to 5.6 ms early at 32 kbit/s a track, 0 to 1.8 ms at 64 and
 * 0 to 0.4 ms at 128; strikes scattered by up to 0.13 ms more.
 */
const errors: readonly { readonly to: number; readonly ms: readonly [onset: number, strike: number] }[] = [
  { to: 48_000, ms: [1.6, 0.1] },
  { to: 96_000, ms: [0.9, 0.03] },
  { to: 160_000, ms: [0.4, 0.01] },
  { to: Infinity, ms: [0.2, 0.005] },
];
const none: CodingError = { onsetSdS: 0, strikeSdS: 0 };

/**
 * Codecs of which that holds (tests/bench/formats.bench.ts), and those that work sample by sample, which cannot smear. WMA
 * is not among them, two channels of which came 9.6 ms apart at 96 kbit/s a track, nor MP2: 1.2 ms at 128.
 */
const measured = new Set(['AAC', 'Opus', 'Vorbis', 'MP3', 'AC-3', 'ADPCM', 'A-law', 'µ-law', 'QOA']);

/** @param tracks of the file, which share its bits */
export function codingError(coding: Coding | undefined, tracks: number): CodingError {
  if (!coding?.lossy) return none;
  const { ms } = errors.find(({ to }) => knownBitsPerSecond(coding, tracks) <= to)!;
  return { onsetSdS: ms[0] / 1000, strikeSdS: ms[1] / 1000 };
}

/** Of a track; a file that does not tell its rate may have any, and of other codecs no rate is known to be enough. */
function knownBitsPerSecond({ codec, bitsPerSecond }: Coding, tracks: number): number {
  return measured.has(codec) ? (bitsPerSecond ?? 0) / Math.max(1, tracks) : 0;
}

/** Each track's. */
export function codingErrors({ tracks }: Take): CodingError[] {
  return tracks.map(({ coding, file }) =>
    codingError(coding, tracks.filter((other) => other.file === file).length),
  );
}

/** @returns the hearing itself where no file is lossy */
export function withCodingErrors(hearing: Hearing, take: Take, channels: number): Hearing {
  const errors = codingErrors(take);
  if (errors.every((error) => error.onsetSdS === 0)) return hearing;
  const { hits } = hearing;
  const onsetSdS = new Float64Array(channels).fill(NaN);
  for (let channel = 0; channel < channels; channel++) {
    const own = [...hits.track.keys()].filter((i) => hits.channel[i] === channel && hits.track[i] >= 0);
    if (own.length === 0) continue;
    const worst = Math.max(...own.map((i) => errors[hits.track[i]].onsetSdS));
    onsetSdS[channel] = Math.hypot(hearing.onsetSdS?.[channel] || 0, worst);
  }
  const timeSdS = hits.timeSdS.map((sd, i) =>
    hits.track[i] < 0 ? sd : Math.hypot(sd, errors[hits.track[i]].strikeSdS),
  );
  return { ...hearing, onsetSdS, hits: { ...hits, timeSdS } };
}

/**
 * At such rates no interval held: some beginnings came farther off than any bound (15 ms in a case of Opus at 64 kbit/s),
 * differently for each channel. Encoders keep a rate to some tens of per cent only, so between 64 and 128 kbit/s is doubted too.
 */
const doubtedToBitsPerSecond = 96_000;

/** Groups heard on a track of few bits or another codec, or against such a reference: a doubt in place of an interval. */
export function withCodingDoubts(
  groups: readonly Group[],
  hits: Pick<Hits, 'count' | 'channel' | 'track'>,
  { description, reference }: Machine,
  { tracks }: Take,
): Group[] {
  const few = tracks.map(({ coding, file }) => {
    if (!coding?.lossy) return false;
    const sharing = tracks.filter((other) => other.file === file).length;
    return knownBitsPerSecond(coding, sharing) <= doubtedToBitsPerSecond;
  });
  const trackOf = new Map<number, number>();
  for (let i = 0; i < hits.count; i++)
    if (hits.track[i] >= 0 && few[hits.track[i]]) trackOf.set(hits.channel[i], hits.track[i]);
  return groups.map((group) => {
    const channel = description.channels.findIndex(({ id }) => id === group.channel);
    const track = trackOf.get(channel) ?? trackOf.get(reference);
    if (channel === reference || track === undefined) return group;
    const { file, coding } = tracks[track];
    const doubt = measured.has(coding!.codec)
      ? `${file} is coded at so low a rate that its sounds may begin milliseconds off, differently for each channel`
      : `${file} is coded with ${coding!.codec || 'a codec that it does not name'}, of which it is not known how far off its sounds may begin`;
    return { ...group, ci95Ms: null, doubt: group.doubt ?? doubt };
  });
}
