/** Where the barrel stood when something sounded, for hits that no pin accounts for. */
import type { Rotation } from '../strokes/strokes.ts';

/** Each leaves of the error what the speed changes by within it: a thousandth. */
const rounds = 4;

/** @returns the unwrapped position, turn·steps + step, at a time in s; not whole between pins */
export function positionAt(
  { timeAt, startPosition, secondsPerTurn }: Rotation,
  steps: number,
  timeS: number,
): number {
  const stepS = secondsPerTurn / steps;
  let position = startPosition + timeS / stepS;
  for (let round = 0; round < rounds; round++) position += (timeS - timeAt(position)) / stepS;
  return position;
}
