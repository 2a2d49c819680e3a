/** One spoilt file through its reader: a value, or one line that a person can act on; anything else is a defect. */
import { InputProblem } from '../../analysis/input/problem.ts';
import { seededRandom } from '../../samples/random.ts';
import { processorMs, referenceMs } from './effort.ts';
import type { Reader } from './readers.ts';
import { spoilt } from './spoil.ts';

/** No spoilt file of 128 kB may be more work: some two seconds of a quiet computer; most take less than a millisecond. */
export const longestMs = () => 150 * referenceMs();

/** Longer lines are not read by anybody, and fill a terminal or a list of problems. */
const longestLine = 2000;

export interface Trial {
  readonly refused: boolean;
  /** Of the processor. */
  readonly ms: number;
}

/** The same seed gives the same bytes. */
export function inputOf(reader: Reader, seed: number): Uint8Array {
  return spoilt(reader.whole, seededRandom(seed));
}

/** @throws Error where the reader throws anything but an InputProblem of one line */
export async function tryOne(reader: Reader, bytes: Uint8Array): Promise<Trial> {
  const start = processorMs();
  let refused = false;
  try {
    await reader.read(bytes);
  } catch (error) {
    if (!(error instanceof InputProblem)) throw error;

    if (/[\u0000-\u001f\u007f]/.test(error.message))
      throw new Error('a message is not one line', { cause: error });
    if (error.message.length > longestLine) throw new Error('a message is too long', { cause: error });
    refused = true;
  }
  return { refused, ms: processorMs() - start };
}
