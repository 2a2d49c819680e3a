/** Entries for CALIBRATION.md: what a take showed and what to change, and what was really done. */
import { withMinus } from '../minus.ts';
import type { EarlierReport, Report } from '../results.ts';
import { markdownText } from './markdown-text.ts';
import { pageOf } from './page.ts';
import { judge, judgementWords, channelsOf, signed, withInterval } from './reading.ts';
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
 * The changelog entry of a take: measured, to change and why, what it should do, and lines for the person to sign.
 *
 * @param own a person's own template (`templates/entry.md.hbs`); the mark stands before whatever it gives
 * @throws InputProblem where the person's template cannot be used
 */
export function renderEntry(report: Report, own?: Template): string {
  return framed(entryId(report), fill(own ?? builtIn, pageOf(report)));
}

/** What was really fitted, as `advise --apply` records it. */
export interface Applied {
  /** The day the work was done, ISO 8601. */
  readonly date: string;
  /** The take whose advice it answers; null where there was none. */
  readonly take: string | null;
  /** Every adjuster that was changed or whose proposal was not followed. `proposed` is null where none was made. */
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
  const rows = fitted.map(({ adjuster, unit, before, after, proposed }) => {
    const asked =
      proposed === null ? '–' : `${withMinus(proposed)}${proposed === after ? '' : ' (not followed)'}`;
    return `| ${text(adjuster)} | ${text(unit)} | ${withMinus(before)} | ${withMinus(after)} | ${asked} |`;
  });
  const lines = [
    `## ${text(date.slice(0, 10))}: settings fitted${take === null ? '' : ` after take ${text(take)}`}`,
    '',
    ...(fitted.length === 0
      ? ['Nothing was changed.']
      : ['| adjuster | unit | before | fitted | proposed |', '| --- | --- | ---: | ---: | ---: |', ...rows]),
    ...(foreseen === null ? [] : ['', ...foresight(foreseen)]),
    '',
    '- Done by:',
    '- Remarks:',
  ];
  const id = `${inMark(`applied ${take ?? ''}`)} ${digest(JSON.stringify([date.slice(0, 10), take, fitted]))}`;
  return framed(id, lines.join('\n'));
}

function foresight(report: EarlierReport): string[] {
  const channels = new Map(channelsOf(report).map((channel) => [channel.id, channel]));
  return [
    'What it should do, in ms:',
    '',
    '| channel | sector | measured | predicted | |',
    '| --- | --- | ---: | ---: | --- |',
    ...report.advice.predicted.map(({ channel, sector, beforeMs, afterMs, ci95Ms, toleranceMs }) => {
      const facts = channels.get(channel);
      const word = judgementWords[judge(afterMs, ci95Ms, toleranceMs ?? facts?.toleranceMs ?? 2)];
      const name = markdownText(facts?.name ?? channel);
      return `| ${name} | ${markdownText(sector)} | ${signed(beforeMs)} | ${withInterval(afterMs, ci95Ms)} | ${word} |`;
    }),
  ];
}

function framed(id: string, body: string): string {
  return `${entryMark(id)}\n${body.replace(/\r\n?/g, '\n').trim()}\n`;
}

/** The built-in template, also the one to start one's own from. */
export const entryTemplate = `## {{#if date}}{{date}}: {{/if}}take {{take}}

{{verdict.sentence}}
{{#if tempo.bpm}}
Measured at {{tempo.bpm}} ± {{tempo.bpmCi95}} beats a minute, {{strokes}}.
{{/if}}

| channel | sector | mean, ms | | strokes |
| --- | --- | ---: | --- | ---: |
{{#each groups}}
| {{name}} | {{sector}} | {{mean}} | {{judgement}} | {{count}} |
{{/each}}
{{#each findings}}

- {{severity}}, {{kind}}: {{message}}{{#if mend}}; to mend it: {{mend}}{{/if}}.
{{/each}}

### To change, and why

{{advice.summary}}
{{#if advice.settings}}

> **{{safety}}**

| adjuster | now | proposed | change |
| --- | ---: | ---: | --- |
{{#each advice.settings}}
| {{adjuster}} | {{installed}} | {{proposed}} | {{change}} ({{unit}}) |
{{/each}}

It should bring the largest mean lateness from {{advice.worstBefore}} ms, as measured, to {{advice.worstAfter}} ms:

| channel | sector | measured, ms | predicted, ms | |
| --- | --- | ---: | ---: | --- |
{{#each advice.predicted}}
| {{name}} | {{sector}} | {{before}} | {{after}} | {{judgement}} |
{{/each}}

- Done by:
- On:
- Really fitted:
{{/if}}
- Remarks:
`;

const builtIn: Template = { file: 'built-in entry template', text: entryTemplate };
