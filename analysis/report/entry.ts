/** Entries for CALIBRATION.md: what a take showed and what to change, and what was really done. */
import { withMinus } from '../words/minus.ts';
import type { EarlierReport, Report } from '../results/results.ts';
import { markdownText } from './markdown-text.ts';
import { pageOf } from './page.ts';
import { fittedHead } from './fitted-log.ts';
import { figures } from './reading.ts';
import { fill, type Template } from './template.ts';

/** Opens every entry of ours; people do not see it, and changelog.ts knows an entry by it. */
export function entryMark(id: string): string {
  return `<!-- shimwright entry ${id} -->`;
}

/** A text as part of an entry's id: no spaces, nothing that could end the comment it stands in, never empty. */
function inMark(text: string): string {
  const wellFormed = text.replace(/[\uD800-\uDFFF]/gu, '\uFFFD');
  const hex = (character: string) => `%${character.charCodeAt(0).toString(16).toUpperCase()}`;
  return encodeURIComponent(wellFormed).replace(/[-!'()*]/g, hex) || '%';
}

/**
 * Sixteen hexadecimal digits that change when the content does: FNV-1a, 64 bit (Fowler, Noll & Vo; constants from
 * RFC 9923, from memory), over UTF-16 units. It tells entries apart; it keeps no secret.
 */
export function digest(text: string): string {
  let hash = 0xcbf29ce484222325n;
  for (let i = 0; i < text.length; i++) {
    hash = BigInt.asUintN(64, (hash ^ BigInt(text.charCodeAt(i))) * 0x100000001b3n);
  }
  return hash.toString(16).padStart(16, '0');
}

/** true for the id of an entry that says what was fitted. */
export function isWork(id: string): boolean {
  return id.startsWith(inMark('applied '));
}

/** How the ids of a take's entries start: the work that followed it, and what it showed. */
export function idStartsOf(take: string): readonly string[] {
  return [inMark(`applied ${take}`), inMark(take)];
}

/** The id of a take's entry: the same take with the same numbers and advice has the same id. */
export function entryId(report: Report): string {
  const { take, recorded, settings, groups, findings, advice } = report;
  return `${inMark(take)} ${digest(JSON.stringify([take, recorded, settings, groups, findings, advice]))}`;
}

/**
 * The changelog entry of a take in some fifteen lines: the verdict, what became of the last change, what to change, the
 * three groups that are furthest out, pins to move, and the way to the report, which has all the rest.
 *
 * @param own    a person's own template (`templates/entry.md.hbs`); the mark stands before whatever it gives
 * @param folder of the take, as seen from the log, with "/" between names
 * @throws InputProblem where the person's template cannot be used
 */
export function renderEntry(report: Report, own?: Template, folder = `takes/${report.take}`): string {
  return framed(entryId(report), fill(own ?? builtIn, { ...pageOf(report), link: linkTo(folder) }));
}

/** Of report.md, as a destination in Markdown (CommonMark 0.31 §6.3): no spaces, brackets or halves of characters. */
function linkTo(folder: string): string {
  const escape = (name: string) =>
    encodeURIComponent(name.replace(/[\uD800-\uDFFF]/gu, '\uFFFD')).replace(
      /[!'()*]/g,
      (character) => `%${character.charCodeAt(0).toString(16).toUpperCase()}`,
    );
  return [...folder.split('/'), 'report.md'].map(escape).join('/');
}

/** What was really fitted, as `advise --apply` records it. */
export interface Applied {
  /** The day the work was done, ISO 8601. */
  readonly date: string;
  /** The take whose advice it answers; null where there was none. */
  readonly take: string | null;
  /** Every adjuster that was changed, and those left alone that advice would change. `proposed` is null where none was made. */
  readonly fitted: readonly {
    readonly adjuster: string;
    readonly unit: string;
    readonly before: number;
    readonly after: number;
    readonly proposed: number | null;
  }[];
  /** The report whose advice foresaw it, where the proposal was followed in full. */
  readonly foreseen: EarlierReport | null;
}

/** The changelog entry that records settings really fitted. */
export function renderApplied(applied: Applied): string {
  const { date, take, fitted, foreseen } = applied;
  const text = (value: string) => markdownText(value);
  const changed = fitted.filter(({ before, after }) => before !== after);
  const left = fitted.filter(
    ({ before, after, proposed }) => before === after && proposed !== null && proposed !== before,
  );
  const rows = changed.map(({ adjuster, unit, before, after, proposed }) => {
    const asked =
      proposed === null ? '–' : `${withMinus(proposed)}${proposed === after ? '' : ' (not followed)'}`;
    return `| ${text(adjuster)} | ${text(unit)} | ${withMinus(before)} | ${withMinus(after)} | ${asked} |`;
  });
  const waiting = left.map(
    ({ adjuster, before, proposed }) =>
      `${text(adjuster)} (${withMinus(before)}; proposed ${withMinus(proposed!)})`,
  );
  const lines = [
    `## ${text(date.slice(0, 10))}: settings fitted${take === null ? '' : ` after take ${text(take)}`}`,
    '',
    ...(changed.length === 0
      ? ['Nothing was changed.']
      : [fittedHead, '| --- | --- | ---: | ---: | ---: |', ...rows]),
    ...(waiting.length === 0 ? [] : ['', `Left as they are: ${waiting.join(', ')}.`]),
    ...(foreseen === null ? [] : ['', foresight(foreseen)]),
    '',
    '- Done by:',
    '- Remarks:',
  ];
  const id = `${inMark(`applied ${take ?? ''}`)} ${digest(JSON.stringify([date.slice(0, 10), take, fitted]))}`;
  return framed(id, lines.join('\n'));
}

function foresight({ advice }: EarlierReport): string {
  return `It should bring the largest mean lateness from ${figures(advice.worstBeforeMs)} ms, as measured, to ${figures(advice.worstAfterMs)} ms.`;
}

function framed(id: string, body: string): string {
  return `${entryMark(id)}\n${body.replace(/\r\n?/g, '\n').trim()}\n`;
}

/** The built-in template, also the one to start one's own from. */
export const entryTemplate = `## {{#if date}}{{date}}: {{/if}}take {{take}}

**{{verdict.sentence}}**{{#if tempo.bpm}} {{strokes}} at {{tempo.bpm}} ± {{tempo.bpmCi95}} beats a minute.{{/if}}

{{#if outcome}}
- Did the last change work?{{#if outcome.fitted}} Fitted since take {{outcome.since}}: {{#each outcome.fitted}}{{#unless @first}}, {{/unless}}{{adjuster}} {{from}} → {{to}}{{/each}}.{{/if}} {{outcome.line}}
{{/if}}
{{#if advice.settings}}
- {{safety}}
{{/if}}
- To change: {{#if advice.settings}}{{#each advice.settings}}{{#unless @first}}, {{/unless}}{{adjuster}} {{installed}} → {{proposed}} ({{change}} {{unit}}){{/each}}. {{/if}}{{advice.summary}}
{{#if advice.settings}}
- Largest mean lateness: {{advice.worstBefore}} ms measured, {{advice.worstAfter}} ms predicted.
{{/if}}
{{#if furthest}}
- Furthest out: {{#each furthest}}{{#unless @first}}; {{/unless}}{{name}} in {{sector}} {{mean}} ms ({{judgement}}){{/each}}.
{{/if}}
{{#if pinsToMove}}
- Pins to move: {{#each pinsToMove}}{{#unless @first}}; {{/unless}}{{name}} from step {{from}} to {{to}}{{/each}}.
{{/if}}
- [All groups, findings and predictions]({{link}})
{{#if advice.settings}}
- Done by:
- On:
- Really fitted:
{{/if}}
- Remarks:
`;

const builtIn: Template = { file: 'built-in entry template', text: entryTemplate };
