/**
 * Handlebars templates, the built-in ones and a person's own. What a template is given is text that is already safe for
 * Markdown, so nothing a template does can let a label in as markup; own properties only, never prototypes.
 *
 * Handlebars compiles to a function from text. A page whose content policy forbids that (no 'unsafe-eval') cannot run
 * it: render where the analysis runs, and hand the page the finished text.
 */
import Handlebars from 'handlebars';
import { InputProblem } from '../problem.ts';

/** A template as text, with the name it is known by in messages. */
export interface Template {
  readonly file: string;
  readonly text: string;
}

/**
 * Fills a template.
 *
 * @param view plain values; every text in it is safe for Markdown already
 * @throws InputProblem naming the template's file and line where it is not a template, or asks for what is not there
 */
export function fill(template: Template, view: object): string {
  const engine = Handlebars.create();
  try {
    const run = engine.compile(template.text, { noEscape: true, strict: true });
    return run(view, { allowProtoPropertiesByDefault: false, allowProtoMethodsByDefault: false });
  } catch (error) {
    throw problemIn(template, error);
  }
}

function problemIn({ file, text }: Template, error: unknown): InputProblem {
  const message = error instanceof Error ? error.message : String(error);
  const line = lineOf(text, message, error);
  const place = line === null ? '' : `line ${line}`;
  const missing = /^"(.*)" not defined in |^Missing helper: "(.*)"$|operator to search for '(.*?)'/s.exec(
    message,
  );
  const partial = /^The partial (.*) could not be found$/s.exec(message);
  if (missing !== null) {
    const name = missing[1] ?? missing[2] ?? missing[3];
    return new InputProblem(
      file,
      place,
      `the template asks for "${name}", which is not there`,
      'correct the name, or start again from the built-in template',
    );
  }
  if (partial !== null) {
    const what = `the template takes in "${partial[1]}", and other templates cannot be taken in`;
    return new InputProblem(file, place, what, 'put its text in the template itself');
  }
  if (error instanceof RangeError) {
    return new InputProblem(file, place, 'the template never ends', 'take out the part that takes itself in');
  }
  const what = message
    .slice(message.lastIndexOf('\n') + 1)
    .replace(/^Expecting .* got 'EOF'$/, 'a block is not closed')
    .replace(/^Expecting .* got /, 'unexpected ');
  return new InputProblem(file, place, `the template cannot be read (${what})`, 'check its braces {{ }}');
}

/** Handlebars says where in several ways: on the error, at the end of the message, or at its start. */
function lineOf(text: string, message: string, error: unknown): number | null {
  const given = (error as { lineNumber?: unknown }).lineNumber;
  if (typeof given === 'number') return given;
  const said = /- (\d+):\d+$/.exec(message) ?? /error on line (\d+)/.exec(message);
  if (said !== null) return Number(said[1]);
  const name = /(?:Missing helper: "|The partial |search for ')([^"' ]+)/.exec(message)?.[1];
  const at = name === undefined ? -1 : text.indexOf(name);
  return at < 0 ? null : text.slice(0, at).split('\n').length;
}
