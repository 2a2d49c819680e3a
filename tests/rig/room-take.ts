/** One microphone in a room where someone talks, a motor hums and someone walks, and what the tool hears there. */
import { hear } from '../../analysis/hits/hear.ts';
import { usualColour } from '../../samples/colour.ts';
import { play } from '../../samples/play.ts';
import { seededRandom } from '../../samples/random.ts';
import { rigMachine } from './machine.ts';
import { recordings, strikePower } from './recordings.ts';
import { footsteps, hum, loudness, speech } from './room.ts';
import { score, type Score } from './score.ts';
import { makeTake } from './take.ts';

const sampleRate = 48_000;
const bpm = 112;
const turns = 6;
const channels = ['reference', 'one', 'two', 'three'];
/** A low drum laid a swing of its tone aside lies so far off, s. */
const swingS = 0.02;

export interface RoomLevels {
  readonly speech: number;
  readonly hum: number;
  readonly footsteps: number;
}

/**
 * Loudest moments of each against a strike's first 50 ms, dB. Near: a microphone a hand's breadth from strikers of some
 * 95 dB, someone talking at 65 dB; far: a microphone across the room. Common practice, no source.
 */
export const rooms = {
  near: { speech: -30, hum: -35, footsteps: -30 },
  far: { speech: -18, hum: -30, footsteps: -20 },
} satisfies Record<string, RoomLevels>;

export interface HeardInRoom {
  readonly sounds: readonly string[];
  readonly durationS: number;
  readonly struck: number;
  readonly missed: number;
  /** Heard 5 to 20 ms from where it was; counted as missed too. */
  readonly swingOff: number;
  /** Nobody struck that channel within 20 ms. */
  readonly invented: number;
  /** By channel. */
  readonly scores: readonly Score[];
}

/** @param seed which four of the recordings, what is said and walked */
export async function hearInRoom(seed: number, levelsDb: RoomLevels): Promise<HeardInRoom> {
  const random = seededRandom(seed);
  const machine = rigMachine({ channels, together: 0.3, seed });
  const sounds = random.shuffle(recordings(sampleRate)).slice(0, channels.length);
  const repeatabilityMs = Object.fromEntries(channels.map((id) => [id, 0.5]));
  const { strikes, durationS } = play(machine, { repeatabilityMs }, { bpm, turns }, random.split('play'));
  const { take, samples } = makeTake(machine, {
    sampleRate,
    durationS: durationS + 1,
    strikes,
    sounds: sounds.map((sound) => [sound]),
    tracks: [channels.map((_, c) => c)],
    snrDb: 45,
    gainDb: 3,
    colour: usualColour,
    seed,
  });
  // In place: the take reads from these samples.
  const [track] = samples;
  const strike = Math.sqrt(strikePower(sounds[0]));
  for (const [sound, db] of [
    [speech(track.length, sampleRate, 10 + seed), levelsDb.speech],
    [hum(track.length, sampleRate, 20 + seed), levelsDb.hum],
    [footsteps(track.length, sampleRate, 30 + seed), levelsDb.footsteps],
  ] as const) {
    const gain = (strike * 10 ** (db / 20)) / loudness(sound, sampleRate);
    for (let i = 0; i < track.length; i++) track[i] += gain * sound[i];
  }
  const { hits } = await hear(take, machine, {});
  const scores = channels.map((_, c) =>
    score(
      strikes.filter(({ channel }) => channel === c).map(({ timeS }) => timeS),
      [...hits.timeS].filter((_, i) => hits.channel[i] === c),
    ),
  );
  const unmatched = scores.reduce((sum, { heard, matched }) => sum + heard - matched, 0);
  const invented = [...hits.timeS].filter((timeS, i) =>
    strikes.every(
      ({ channel, timeS: struckS }) => channel !== hits.channel[i] || Math.abs(struckS - timeS) > swingS,
    ),
  ).length;
  return {
    sounds: sounds.map(({ name }) => name),
    durationS: track.length / sampleRate,
    struck: strikes.length,
    missed: scores.reduce((sum, { played, matched }) => sum + played - matched, 0),
    swingOff: unmatched - invented,
    invented,
    scores,
  };
}
