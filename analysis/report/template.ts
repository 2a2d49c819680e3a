/**
 * Handlebars templates, the built-in ones and a person's own. What a template is given is text that is already safe for
 * Markdown, so nothing a template does can let a label in as markup; own properties only, never prototypes.
 *
 * Handlebars compiles to a function from text. A page whose content policy forbids that (no 'unsafe-eval') cannot run
 * it: render where the analysis runs, and hand the page the finished text.
 */
import Handlebars from 'handlebars';
import { InputProblem } from '../input/problem.ts';

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
  if (template.text.length > maxLength) {
    throw new InputProblem(
      template.file,
      '',
      'the template is longer than 64 KiB',
      'keep only the template in it',
    );
  }
  refuseMany(template);
  const engine = Handlebars.create();
  try {
    const run = engine.compile(counted(engine, template), { noEscape: true, strict: true });
    return run(view, { allowProtoPropertiesByDefault: false, allowProtoMethodsByDefault: false });
  } catch (error) {
    if (error instanceof InputProblem) throw error;
    throw problemIn(template, error);
  }
}

/** Built-in templates are of 4 kB; the time to make one ready goes with the square of its length where it is all blocks. */
const maxLength = 64 * 1024;
/**
 * Tags, and parentheses, in all: the built-in ones have some fifty. What reads them goes over all before at each, so that
 * 2000 take a second and 13 000 half a minute. They are counted wherever they stand, so that nothing hides any: in a text,
 * a comment, an "else if".
 */
const maxTags = 2000;
const maxParentheses = 1000;
/** Characters within tags, in all; the built-in ones have some thousand. 30 000 names in one tag take a second. */
const maxTagText = 16 * 1024;
/** Blocks, and lookups, within one another; the built-in ones have four. */
const maxDepth = 50;

/**
 * What a template may do, in characters that it writes and a few for each thing it looks up: some seconds at most on a
 * slow computer. A report of a thousand channels by sector takes a hundredth of it. Loops within loops, or parts that
 * take themselves in, reach any number from a few lines.
 */
const maxWork = 50_000_000;
const lookupWork = 20;
/** No name in a template can be this: its brackets cannot hold one. */
const counter = '] work';

/**
 * The template as a tree in which each part that can run more than once says first how much work it is. Counting is
 * the same on every computer, which a clock is not.
 *
 * @throws InputProblem, when it runs, once the work is more than maxWork
 */
function counted(engine: typeof Handlebars, { file, text }: Template): hbs.AST.Program {
  let done = 0;
  engine.registerHelper(counter, (work: number) => {
    done += work;
    if (done <= maxWork) return '';
    const what = 'the template makes more than a report can hold, or never ends';
    throw new InputProblem(file, '', what, 'take out loops within loops, or the part that takes itself in');
  });
  refuseDeep(file, text);
  const tree = engine.parse(text);
  class Counter extends Handlebars.Visitor {
    private depth = 0;
    override accept(node: hbs.AST.Node): void {
      // Each block is two: itself and what is in it.
      if (++this.depth > 2 * maxDepth) throw tooDeep(file);
      super.accept(node);
      this.depth--;
    }
    override Program(program: hbs.AST.Program): void {
      super.Program(program);
      const work = program.body.reduce((sum, { type, ...rest }) => {
        const written = type === 'ContentStatement' ? (rest as hbs.AST.ContentStatement).value.length : 0;
        return sum + lookupWork + written;
      }, lookupWork);
      program.body.unshift(call(work));
    }
  }
  new Counter().accept(tree);
  return tree;
}

/** Before it is parsed, for the same reason. */
function refuseMany({ file, text }: Template): void {
  const refuse = (mark: string, most: number) => {
    if (text.split(mark, most + 2).length - 1 > most)
      throw new InputProblem(
        file,
        '',
        `there are more than ${most} "${mark}" in it`,
        'keep only the template in it',
      );
  };
  refuse('{{', maxTags);
  refuse('(', maxParentheses);
  if (tagText(text) > maxTagText) {
    const what = `its tags {{ }} hold more than ${maxTagText / 1024} KiB`;
    throw new InputProblem(file, '', what, 'keep only the template in it');
  }
}

/** Characters within tags; comments, which are read at one go, are not counted. */
function tagText(text: string): number {
  let sum = 0;
  for (let from = text.indexOf('{{'); from >= 0;) {
    const end = text.indexOf('}}', from);
    const past = end < 0 ? text.length : end;
    if (text[from + 2] !== '!') sum += past - from;
    from = text.indexOf('{{', past);
  }
  return sum;
}

/** Before it is parsed, since that takes seconds where thousands of blocks are open. */
function refuseDeep(file: string, text: string): void {
  let depth = 0;
  for (const [, kind] of text.matchAll(/\{\{~?([#^/])(?!~?\}\})/g)) {
    depth += kind === '/' ? -1 : 1;
    if (depth > maxDepth) throw tooDeep(file);
  }
}

function tooDeep(file: string): InputProblem {
  const what = `its blocks stand more than ${maxDepth} deep in one another`;
  return new InputProblem(file, '', what, 'close each, or take some of them out');
}

function call(work: number): hbs.AST.MustacheStatement {
  const loc = { source: '', start: { line: 1, column: 0 }, end: { line: 1, column: 0 } };
  const path = { type: 'PathExpression', data: false, depth: 0, parts: [counter], original: counter, loc };
  const number = { type: 'NumberLiteral', value: work, original: work, loc };
  const strip = { open: false, close: false };
  return {
    type: 'MustacheStatement',
    path,
    params: [number],
    hash: { type: 'Hash', pairs: [], loc },
    escaped: false,
    strip,
    loc,
  };
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
