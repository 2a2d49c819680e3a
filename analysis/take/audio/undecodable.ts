/** What is said of a recording that cannot be decoded: what it is, and the way out. */
import { InputProblem } from '../../input/problem.ts';
import { formats, type FormatId } from './format.ts';

/**
 * @param codec as people call it; empty where it is not known
 * @param why   what the decoder says, where it says something
 */
export function undecodable(
  file: string,
  format: FormatId | null,
  codec: string,
  why?: string,
): InputProblem {
  const name = format === null ? null : formats[format].name;
  // "FLAC" is a format and its codec: said once.
  const coded = name === null || name.includes(codec) ? '' : ` with ${codec} in it`;
  const what = name === null ? 'this is no audio that can be read' : `${name}${coded} cannot be decoded here`;
  return new InputProblem(
    file,
    'byte 0',
    why === undefined ? what : `${what} (${why})`,
    name === null
      ? 'export it again as WAV or FLAC, or move it out of the take'
      : 'turn it into WAV or FLAC with any audio or video converter, at the same sampling rate, and put that here in its place',
  );
}
