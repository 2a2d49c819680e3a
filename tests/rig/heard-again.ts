/** A take with its hits moved is heard again: does each lie where it was sent? */
import { grouped } from '../../analysis/numbers/grouped.ts';
import { hear } from '../../analysis/hits/hear.ts';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import { sectorOf } from '../../analysis/machine/effects.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { changeOf } from '../../analysis/report/hear-before.ts';
import { ownSounds } from '../../analysis/report/hear-sounds.ts';
import { hearBefore, movedStretch, partOf } from '../../analysis/report/hear-take.ts';
import type { Report } from '../../analysis/results/results.ts';
import type { Take } from '../../analysis/take/take.ts';
import type { Strike } from '../../samples/play.ts';
import { trackOf } from './take.ts';

/** A hit found no nearer than this to where it was sent is another or none, s. */
const foundWithinS = 0.004;

/** The take with every hit where its advice sends it, each microphone still by itself. */
export async function movedTake(take: Take, machine: Machine, report: Report): Promise<Take> {
  const sounds = await ownSounds(take, machine, report, {});
  const tracks = [];
  for (const [t, track] of take.tracks.entries()) {
    const { moved } = await movedStretch(partOf(track, t, report, sounds[t]), 0, track.length);
    const now = trackOf(moved, track.sampleRate, track.channels);
    tracks.push({ ...track, read: (from: number, to: number) => now.read(from, to) });
  }
  return { ...take, tracks };
}

/** One channel's hits: where they were found, less where they were sent. */
export interface HeardAgain {
  readonly channel: string;
  /** By how much they were to move, ms, the largest. */
  readonly farthestMs: number;
  /** ms, one a hit that was used both times. */
  readonly errorMs: readonly number[];
  /** Of each sector its mean, ms: what advice predicts. */
  readonly sectorMs: readonly number[];
  /** Set aside in the take or when heard again: masked, of no pin. They are in no other number. */
  readonly setAside: number;
  /** Used in the take, and not heard again near where they were sent. */
  readonly lost: number;
}

/** The two files as they are written, each a take of one track that hears all channels. */
export async function writtenTakes(
  take: Take,
  machine: Machine,
  report: Report,
): Promise<{ readonly before: Take; readonly after: Take }> {
  const { before, after } = await hearBefore(take, machine, report, take.name);
  const everyone = [...machine.description.channels.keys()];
  const { sampleRate } = take.tracks[0];
  const asTake = (file: Uint8Array) => ({
    ...take,
    tracks: [trackOf(samplesOf(file), sampleRate, everyone)],
  });
  return { before: asTake(before), after: asTake(after) };
}

/** A WAVE file's samples: after a header of 44 bytes, one track of 16 bits. */
function samplesOf(file: Uint8Array): Float32Array {
  const view = new DataView(file.buffer);
  return Float32Array.from(
    { length: (file.length - 44) / 2 },
    (_, i) => view.getInt16(44 + 2 * i, true) / 32_768,
  );
}

/**
 * @param again the take with the advice of this report carried out on its sound
 * @param change how far hits are sent, s
 * @param saved  voices kept from the take: each channel then begins where it began there
 */
export async function heardAgain(
  machine: Machine,
  report: Report,
  again: Take,
  change = changeOf(report.advice),
  saved: readonly SavedVoice[] = [],
): Promise<HeardAgain[]> {
  const { hits } = await hear(again, machine, {}, saved);
  return machine.description.channels.map(({ id }, channel) => {
    const rows = report.hits.filter((hit) => hit.channel === id);
    const found = [...hits.channel.keys()].filter((i) => hits.channel[i] === channel);
    let setAside = 0;
    let lost = 0;
    const errors: { readonly sector: string | null; readonly ms: number }[] = [];
    for (const { timeS, sector, state } of rows) {
      const sentS = timeS + change(id, sector);
      const nearest = found.reduce(
        (best, i) => (Math.abs(hits.timeS[i] - sentS) < Math.abs(hits.timeS[best] - sentS) ? i : best),
        found[0],
      );
      if (state === 'set-aside') setAside++;
      else if (found.length === 0 || Math.abs(hits.timeS[nearest] - sentS) > foundWithinS) lost++;
      else if (hits.why[nearest] !== null) setAside++;
      else errors.push({ sector, ms: 1000 * (hits.timeS[nearest] - sentS) });
    }
    const farthestMs = 1000 * Math.max(0, ...rows.map(({ sector }) => Math.abs(change(id, sector))));
    const sectorMs = [...grouped(errors, ({ sector }) => sector).values()].map(
      (own) => own.reduce((sum, { ms }) => sum + ms, 0) / own.length,
    );
    return { channel: id, farthestMs, errorMs: errors.map(({ ms }) => ms), sectorMs, setAside, lost };
  });
}

/** By how much a report's advice moves a strike, s: what the take would be, were it recorded with the change made. */
export function movedBy(machine: Machine, report: Report): (strike: Strike) => number {
  const change = changeOf(report.advice);
  const { channels, barrel } = machine.description;
  return ({ channel, foundStep }) =>
    change(channels[channel].id, barrel.sectors[sectorOf(machine.description, foundStep)].id);
}

/** Compared from so long before each strike's beginning until so long after, s. */
const beforeS = 0.002;
const afterS = 0.02;

/**
 * Where each strike lies on a moved track, against the same strikes recorded anew where they were sent: no hearing in
 * between. To first order in the delay, least squares: −Σ a′(m − a) / Σ a′².
 *
 * @returns by channel, ms, one a strike
 */
export async function soundsOff(
  machine: Machine,
  moved: Take,
  anew: Take,
  strikes: readonly Strike[],
): Promise<number[][]> {
  const offMs: number[][] = machine.description.channels.map(() => []);
  for (const [t, { channels, sampleRate, length }] of anew.tracks.entries()) {
    const [is, due] = [await moved.tracks[t].read(0, length), await anew.tracks[t].read(0, length)];
    for (const { channel, timeS } of strikes) {
      if (!channels.includes(channel)) continue;
      const [from, to] = [timeS - beforeS, timeS + afterS].map((s) => Math.round(s * sampleRate));
      let [product, power] = [0, 0];
      for (let i = Math.max(1, from); i < Math.min(to, length - 1); i++) {
        const slope = (due[i + 1] - due[i - 1]) / 2;
        product -= slope * (is[i] - due[i]);
        power += slope * slope;
      }
      offMs[channel].push((1000 * product) / power / sampleRate);
    }
  }
  return offMs;
}

/** Whether a report has a strike among the hits of its channel that may be moved. */
export function wasHeard(machine: Machine, report: Report, { channel, timeS }: Strike): boolean {
  const { id } = machine.description.channels[channel];
  return report.hits.some((hit) => hit.channel === id && Math.abs(hit.timeS - timeS) < foundWithinS);
}
