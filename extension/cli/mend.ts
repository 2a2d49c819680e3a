/** What a killed run left half done in a machine's folder, put right and told before a command goes by it. */
import { InputProblem } from '../../analysis/input/problem.ts';
import type { Terminal } from './terminal.ts';

/** @param root real path of the machine's folder */
export async function mendAndTell(root: string, terminal: Terminal): Promise<void> {
  const { mendedWords, mendUnfinished } = await import('../files/unfinished.ts');
  try {
    const mended = await mendUnfinished(root);
    if (mended !== null) terminal.note(mendedWords(mended));
  } catch (error) {
    // A folder that may only be read can still be read.
    if (!(error instanceof InputProblem)) throw error;
    terminal.note(error.message);
  }
}
