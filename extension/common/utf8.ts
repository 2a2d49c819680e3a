/** Text of files that people and their programs wrote. */
import { InputProblem } from '../../analysis/input/problem.ts';

/**
 * UTF-8 as text. A byte order mark stays in front, so that what is written back is what was read.
 *
 * @throws InputProblem where the bytes are not UTF-8
 */
export function asText(bytes: Uint8Array, shown: string): string {
  if ((bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff))
    throw new InputProblem(shown, '', 'is UTF-16 text', 'save it as UTF-8');
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    throw new InputProblem(shown, '', 'is not UTF-8 text', 'save it as UTF-8');
  }
}
