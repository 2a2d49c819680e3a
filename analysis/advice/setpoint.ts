/**
 * The motor's set-point for a tempo: turns a minute of the output, times every stage's ratio. Gear-train arithmetic is
 * common practice, no source: 96 beats a minute, one beat a turn, through 6 and 5, is 2880.
 */
import type { Machine } from '../machine/machine.ts';
import { InputProblem } from '../input/problem.ts';
import type { EarlierReport } from '../results/results.ts';

export interface Setpoint {
  /** What the gear train alone asks for. */
  readonly byRatios: number;
  /** What the takes on record say would give the tempo; null where none tells its set-point. */
  readonly byTakes: number | null;
  /** How much more set-point than the ratios say the takes needed, as a share; 0.01 is one per cent more. */
  readonly slip: number | null;
  readonly maxSetpoint: number | null;
  /** false where the set-point to use is beyond `maxSetpoint`. */
  readonly withinLimit: boolean;
  /** The fastest tempo that `maxSetpoint` allows, beats a minute. */
  readonly fastestBpm: number | null;
}

/**
 * @param bpm beats a minute
 * @param reports takes that may tell the set-point they were recorded at and the tempo it gave
 * @throws InputProblem where the machine file does not describe the drive
 */
export function setpointFor(machine: Machine, bpm: number, reports: readonly EarlierReport[]): Setpoint {
  const perBpm = setpointPerBpm(machine);
  const { maxSetpoint = null } = machine.description.drive ?? {};
  const slips = reports.flatMap(({ setpoint, tempo }) =>
    typeof setpoint === 'number' && tempo.bpm !== null ? [setpoint / (tempo.bpm * perBpm)] : [],
  );
  const factor = slips.length === 0 ? null : slips.reduce((a, b) => a + b) / slips.length;
  const byRatios = bpm * perBpm;
  const byTakes = factor === null ? null : byRatios * factor;
  return {
    byRatios,
    byTakes,
    slip: factor === null ? null : factor - 1,
    maxSetpoint,
    withinLimit: maxSetpoint === null || (byTakes ?? byRatios) <= maxSetpoint,
    fastestBpm: maxSetpoint === null ? null : maxSetpoint / (perBpm * (factor ?? 1)),
  };
}

function setpointPerBpm({ description, file }: Machine): number {
  const { drive } = description;
  if (drive === undefined)
    throw new InputProblem(
      file,
      'drive',
      'the machine file says nothing of a drive',
      'add "drive" with "beatsPerOutputTurn" and its "stages"',
    );
  if (drive.stages.length === 0)
    throw new InputProblem(
      file,
      'drive.stages',
      'no stage stands between the motor and the output',
      'name each stage with its ratio, or one of ratio 1 for a direct drive',
    );
  return drive.stages.reduce((product, { ratio }) => product * ratio, 1) / drive.beatsPerOutputTurn;
}
