/**
 * Which of several machines a recording is of, before it is anybody's take. Each machine's pattern is laid along the same
 * moments by its own best rotation; where two patterns fit alike their saved voices are asked. What neither tells is said.
 */
import type { Machine } from '../machine/machine.ts';
import { ofTune } from '../machine/tune.ts';
import type { Run } from '../ports.ts';
import { roughRotationOf } from '../rotation/of-take.ts';
import type { RotationFit, RoughRotation } from '../rotation/rotation.ts';
import type { AudioFile } from '../take/audio/audio-file.ts';
import type { Take, Track } from '../take/take.ts';
import { tracksOf } from '../take/tracks.ts';
import { listen, type OnsetCandidates } from './detect/listen.ts';
import { prominence } from './detect/prominence.ts';
import { loudest, loudness, momentsIn } from './expect/sure-moments.ts';
import type { SavedVoice } from './learn/saved-voice.ts';
import { voicesAlike } from './sounds-like.ts';

/** A machine, the recording as its take, and its saved voices. */
export interface Possible {
  readonly machine: Machine;
  /** Without markers. */
  readonly take: Take;
  readonly voices: readonly SavedVoice[];
}

/** A recording that is no take yet: nothing is said of it but what its name says. */
export function asTakeOf(machine: Machine, audio: AudioFile): Take {
  const { tracks } = tracksOf([audio], null, machine);
  return { name: '', description: {}, recorded: null, settings: {}, tracks, markers: [], notices: [] };
}

/** Machines by their place in the list that was given. */
export type WhichMachine =
  | { readonly kind: 'fits'; readonly machine: number; readonly by: 'pattern' | 'voices'; readonly fit: Fit }
  /** It fits best, and is not sure. */
  | {
      readonly kind: 'perhaps';
      readonly machine: number;
      /** Less than a turn; a pattern that any even beat fits; much is silent, or sounds where no pin is. */
      readonly why: 'short' | 'even-beat' | 'much-left';
      readonly fit: Fit;
    }
  /** They fit alike. */
  | { readonly kind: 'either'; readonly machines: readonly number[] }
  | { readonly kind: 'none'; readonly why: 'few-strikes' | 'no-pattern' };

export interface Fit {
  /** Of a machine with several. */
  readonly tune: string | undefined;
  /** Parts of a turn count. */
  readonly turns: number;
  /** Share of the sounds that lie at pins, and of the pins due that sound. */
  readonly ofSounds: number;
  readonly ofPins: number;
}

/** The first so many seconds tell. */
const judgedS = 600;
/** Fewer sounds fit by chance. */
const fewestSounds = 12;
/**
 * Least share, of sounds and of pins alike (`npm run bench -- which-machine` has the takes).
 */
const surely = 0.82;
const perhaps = 0.7;
/**
 * Another machine's pattern fits clearly worse where it leaves so much more unexplained a turn, sounds without a pin and silent pins
 * together: a pin in a wrong hole comes to two, and the machine's own faults count against every pattern.
 */
const leastMore = 4;
/** Voices tell where one machine's are so like what sounds, and the others' by so much less. */
const leastAlike = 0.7;
const leastMoreAlike = 0.2;

/** @throws the signal's reason when the run is stopped */
export async function whichMachine(possible: readonly Possible[], run: Run = {}): Promise<WhichMachine> {
  const listened = listenOnce(run);
  const read: (Possible & { detected: readonly OnsetCandidates[] })[] = [];
  for (const one of possible) {
    const take = { ...one.take, tracks: one.take.tracks.map(judged) };
    const detected: OnsetCandidates[] = [];
    for (const track of take.tracks) detected.push(await listened(track));
    read.push({ ...one, take, detected });
  }
  if (read.every(({ detected }) => soundsIn(detected) < fewestSounds))
    return { kind: 'none', why: 'few-strikes' };
  let best: readonly Laid[] = [];
  for (const share of loudness) {
    run.signal?.throwIfAborted();
    const laid = read.flatMap((one, machine) => layAlong(one, machine, share));
    laid.sort((a, b) => b.rotation.fit.score - a.rotation.fit.score);
    if (laid.length > 0 && (best.length === 0 || explained(laid[0]) > explained(best[0]))) best = laid;
    if (best.length > 0 && explained(best[0]) >= surely) break;
  }
  return judge(best);
}

/** A machine's pattern laid along the recording. */
interface Laid {
  readonly machine: number;
  readonly of: Possible & { readonly detected: readonly OnsetCandidates[] };
  readonly played: Machine;
  readonly rotation: RoughRotation;
  readonly turns: number;
}

/** The first part of a track. */
function judged(track: Track): Track {
  return { ...track, length: Math.min(track.length, Math.round(judgedS * track.sampleRate)) };
}

/** A file's track is the same for every machine. */
function listenOnce(run: Run): (track: Track) => Promise<OnsetCandidates> {
  const known = new Map<string, Promise<OnsetCandidates>>();
  return (track) => {
    const key = `${track.track} ${track.file}`;
    const found = known.get(key) ?? listen(track, run, (fraction) => run.progress?.('hearing', fraction));
    known.set(key, found);
    return found;
  };
}

function soundsIn(detected: readonly OnsetCandidates[]): number {
  return Math.max(0, ...detected.map(({ at }) => at.length));
}

/** Of a machine with several tunes the one that fits best; nothing where none is found in what sounds. */
function layAlong(of: Laid['of'], machine: number, share: number): Laid[] {
  const { take, detected } = of;
  const prominent = prominence(detected, take).map((each, t) => loudest(each, detected[t], share));
  const moments = momentsIn(take, detected, prominent);
  if (moments.length < fewestSounds) return [];
  const tunes = of.machine.tunes?.map(({ name }) => ofTune(of.machine, name)) ?? [of.machine];
  const laid = tunes.flatMap((played) => {
    const rotation = roughRotationOf(take, played, moments);
    if (!rotation.found) return [];
    const times = moments.map(({ timeS }) => timeS);
    const span = rotation.positionAt(Math.max(...times)) - rotation.positionAt(Math.min(...times));
    return [{ machine, of, played, rotation, turns: span / played.description.barrel.steps }];
  });
  return laid.sort((a, b) => b.rotation.fit.score - a.rotation.fit.score).slice(0, 1);
}

/** @param laid best first */
async function judge(laid: readonly Laid[]): Promise<WhichMachine> {
  if (laid.length === 0 || explained(laid[0]) < perhaps) return { kind: 'none', why: 'no-pattern' };
  const [best, ...others] = laid;
  const alike = others.filter((other) => explained(other) >= perhaps && !isClearlyWorse(other, best));
  if (alike.length > 0) return byVoices([best, ...alike]);
  const { machine } = best;
  const fit = fitOf(best);
  const why = doubtOf(best);
  return why === null
    ? { kind: 'fits', machine, by: 'pattern', fit }
    : { kind: 'perhaps', machine, why, fit };
}

async function byVoices(alike: readonly Laid[]): Promise<WhichMachine> {
  const heard: { laid: Laid; like: number }[] = [];
  for (const laid of alike) {
    const { of, played, rotation } = laid;
    const { take, detected, voices } = of;
    heard.push({ laid, like: await voicesAlike({ take, machine: played, rotation, detected }, voices) });
  }
  // A machine whose voices were not saved may sound like anything.
  heard.sort((a, b) => b.like - a.like);
  const [{ laid, like }, next] = heard;
  const isTold = heard.every((one) => !Number.isNaN(one.like)) && like - next.like >= leastMoreAlike;
  if (!isTold || like < leastAlike || doubtOf(laid) !== null)
    return { kind: 'either', machines: alike.map(({ machine }) => machine).sort((a, b) => a - b) };
  return { kind: 'fits', machine: laid.machine, by: 'voices', fit: fitOf(laid) };
}

function doubtOf(laid: Laid): 'short' | 'even-beat' | 'much-left' | null {
  if (explained(laid) < surely) return 'much-left';
  if (laid.turns < 1) return 'short';
  return isEvenBeat(laid) ? 'even-beat' : null;
}

/** Pins at one distance all round: what else strikes evenly fits as well. */
function isEvenBeat({ played, of: { take } }: Laid): boolean {
  const audible = new Set(take.tracks.flatMap(({ channels }) => channels));
  const pins = played.pins.filter(({ channel }) => audible.has(channel));
  const steps = [...new Set(pins.map(({ step }) => step))].sort((a, b) => a - b);
  const gaps = steps.map((step, i) => (steps[i + 1] ?? steps[0] + played.description.barrel.steps) - step);
  return new Set(gaps).size <= 1;
}

function isClearlyWorse(other: Laid, best: Laid): boolean {
  const left = ({ hits, pinned, due, matched }: RotationFit) =>
    (hits - pinned + due - matched) / Math.max(1, best.turns);
  return left(other.rotation.fit) - left(best.rotation.fit) >= leastMore;
}

/** Of sounds and of pins, the lesser share that is explained. */
function explained({ rotation: { fit } }: Laid): number {
  return Math.min(fit.pinned / fit.hits, fit.matched / fit.due);
}

function fitOf({ played, rotation: { fit }, turns }: Laid): Fit {
  return { tune: played.tune, turns, ofSounds: fit.pinned / fit.hits, ofPins: fit.matched / fit.due };
}
