/** The loop through audio: a played take becomes sound, and its report comes of hearing it, by the stages of the pipeline. */
import { runChecks } from '../../analysis/checks/index.ts';
import { buildReport } from '../../analysis/report/report.ts';
import type { Sound } from '../../samples/place.ts';
import { seededRandom } from '../../samples/random.ts';
import type { Recording } from '../rig/recordings.ts';
import { studyOf } from '../rig/study.ts';
import { makeTake } from '../rig/take.ts';
import type { Measure } from './loop.ts';
import { machineOf, withFaults } from './machines.ts';

const sampleRate = 44_100;

/** @param sounds one a channel; each channel has its own track */
function throughAudio(sounds: readonly Sound[], seed: number): Measure {
  return async (machine, { strikes, durationS }, bpm, name, settings) => {
    const channels = machine.description.channels.map((_, c) => c);
    const made = makeTake(machine, {
      sampleRate,
      durationS: durationS + 1,
      strikes,
      sounds: channels.map((c) => [sounds[c % sounds.length]]),
      tracks: channels.map((c) => [c]),
      snrDb: 30,
      gainDb: 2,
      seed,
    });
    const take = { ...made.take, name, settings, description: { tempo: bpm } };
    const study = await studyOf(machine, take);
    return buildReport(study, runChecks(study));
  };
}

/**
 * A small machine with its faults, four turns a take, and one kind of striker for each channel. Its reference turns on a
 * shaft of its own and has no pins that err each in its own way: by ear, what they did in step with the turn could not be
 * told from its speed.
 */
export function byEar(seed: number, sounds: readonly Recording[]) {
  const random = seededRandom(seed);
  const made = withFaults(machineOf(4, 5, 0, random), random);
  const pinMs = made.machine.pins.map(({ channel }, i) => (channel === 0 ? 0 : made.truth.pinMs![i]));
  const kinds = new Map(sounds.map((sound) => [sound.kind, sound]));
  return {
    random,
    faulty: { ...made, turns: 4, truth: { ...made.truth, pinMs } },
    measure: throughAudio([...kinds.values()], seed),
  };
}
