/** What a command may say, and where: results on standard output, everything else on standard error. */
import type { Stage } from '../../analysis/ports.ts';
import { doneOf } from '../common/stages.ts';

export interface Terminal {
  /** Writes text to standard output, control characters made harmless. */
  print(text: string): void;
  /** Writes to standard output as it is: for JSON, which escapes control characters itself. */
  printRaw(text: string): void;
  /** One line on standard error. */
  note(line: string): void;
  /** Shows how far the work is, on a terminal only. `what` says on which thing. */
  progress(what: string, stage: Stage, fraction: number): void;
  /** Takes the progress away. */
  progressDone(): void;
}

/** Redrawn no more often than the eye follows, and only where it has changed: that is what flickers. */
const redrawMs = 100;

const barWidth = 30;

/**
 * @param quiet hides the progress and all that is not the result or a fault
 */
export function createTerminal(quiet: boolean): Terminal {
  const bar = !quiet && process.stderr.isTTY && process.env.TERM !== 'dumb';
  const plain = process.env.NO_COLOR !== undefined && process.env.NO_COLOR !== '';
  let shown = '';
  let drawnAt = 0;
  const clear = () => {
    if (shown !== '') process.stderr.write('\r\x1b[K');
    shown = '';
  };
  return {
    print(text) {
      clear();
      process.stdout.write(`${harmless(text)}\n`);
    },
    printRaw(text) {
      clear();
      process.stdout.write(text.endsWith('\n') ? text : `${text}\n`);
    },
    note(line) {
      clear();
      process.stderr.write(`${oneLine(line)}\n`);
    },
    progress(what, stage, fraction) {
      if (!bar || Date.now() - drawnAt < redrawMs) return;
      const next = barLine(what, stage, fraction, process.stderr.columns || 80, plain);
      if (next === shown) return;
      process.stderr.write(`\r${next}\x1b[K`);
      shown = next;
      drawnAt = Date.now();
    },
    progressDone: clear,
  };
}

function barLine(what: string, stage: Stage, fraction: number, columns: number, plain: boolean): string {
  const done = doneOf(stage, fraction);
  const full = Math.round(done * barWidth);
  const left = '─'.repeat(barWidth - full);
  const drawn = `${'━'.repeat(full)}${plain ? left : `\x1b[2m${left}\x1b[22m`}`;
  const words = ` ${String(Math.floor(done * 100)).padStart(3)} %  ${stage}`;
  const room = columns - barWidth - words.length - 4;
  if (room < 0) return words.trim().slice(0, Math.max(0, columns - 1));
  const name = oneLine(what);
  const end = name.length > room ? `…${name.slice(name.length - room + 1)}` : name;
  return `${drawn}${words}  ${room > 1 ? end : ''}`;
}

/** Text for a terminal: line ends and tabs stay, every other control character is shown instead of obeyed. */
export function harmless(text: string): string {
  // Control characters, and those that turn the direction of writing.
  return text.replace(/[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g, shownAs);
}

/** As harmless, on one line. */
export function oneLine(text: string): string {
  return harmless(text.replace(/\r\n|[\r\n\t\u2028\u2029]/g, (end) => (end === '\t' ? ' ' : '\\n')));
}

function shownAs(character: string): string {
  const code = character.charCodeAt(0);
  return code < 0x100 ? `\\x${code.toString(16).padStart(2, '0')}` : `\\u${code.toString(16)}`;
}
