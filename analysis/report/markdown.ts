/** report.md: a report in Markdown, from the built-in template or a person's own. */
import type { Report } from '../results/results.ts';
import { pageOf } from './page.ts';
import { fill, type Template } from './template.ts';

/** Names of the pictures that stand beside report.md: lateness, and what the checks measured. */
export const plotFile = 'report.svg';
export const checksFile = 'checks.svg';

/**
 * The report as Markdown.
 *
 * @param own a person's own template (`templates/report.md.hbs`) in place of the built-in one
 * @throws InputProblem where the person's template cannot be used
 */
export function renderReport(report: Report, own?: Template): string {
  return fill(own ?? builtIn, { ...pageOf(report), plot: plotFile, checksPlot: checksFile });
}

/** The built-in template, also the one to start one's own from. */
export const reportTemplate = `# {{machine}}: take {{take}}{{#if tune}} ({{tune}}){{/if}}

**{{verdict.sentence}}**

{{strokes}} measured{{#if recorded}}, recorded {{recorded}}{{/if}}. Positive is late, negative early, against the reference's own mean{{#if meant}} and what is meant: {{#each meant}}{{#unless @first}}; {{/unless}}{{name}} {{words}}{{/each}}{{/if}}.

![Lateness by sector for each channel: every stroke, mean, 95 % interval and tolerance]({{plot}})
{{#if outcome}}

## Did it work?

Since take {{outcome.since}}: {{outcome.line}}
{{#if outcome.missed}}

Not as predicted:

| channel | sector | predicted, ms | measured, ms |
| --- | --- | ---: | ---: |
{{#each outcome.missed}}
| {{name}} | {{sector}} | {{predicted}} | {{measured}} |
{{/each}}
{{/if}}
{{/if}}

## What to change

{{advice.summary}}
{{#if advice.settings}}

> **{{safety}}**

| adjuster | now | proposed | change |
| --- | ---: | ---: | --- |
{{#each advice.settings}}
| {{adjuster}} | {{installed}} | {{proposed}} | {{change}} ({{unit}}) |
{{/each}}
{{#each advice.work}}

{{this}}
{{/each}}

Largest mean lateness: {{advice.worstBefore}} ms measured, {{advice.worstAfter}} ms predicted.
{{/if}}
{{#if advice.experiment}}

{{advice.experiment}}
{{/if}}
{{#if advice.predicted}}

| channel | sector | measured, ms | predicted, ms | early · late | |
| --- | --- | ---: | ---: | :---: | --- |
{{#each advice.predicted}}
| {{name}} | {{sector}} | {{before}} | {{after}} | \`{{bar}}\` | {{judgement}} |
{{/each}}
{{/if}}

{{#if advice.effects}}

### What one unit of each adjuster is taken to do

| adjuster | ms a unit | give or take, ms | known from |
| --- | ---: | ---: | --- |
{{#each advice.effects}}
| {{adjuster}} | {{perUnit}} | {{sd}} | {{from}} |
{{/each}}
{{/if}}

## Lateness

| channel | sector | mean, ms | early · late | | strokes | pin to pin, ms | repeatability, ms | tolerance, ms |
| --- | --- | ---: | :---: | --- | ---: | ---: | ---: | ---: |
{{#each groups}}
| {{name}}{{#if reference}} (reference){{/if}}{{#if meant}} (meant {{meant}} ms){{/if}} | {{sector}} | {{mean}} | \`{{bar}}\` | {{judgement}} | {{count}} | {{pinScatter}} | {{repeatability}} | {{tolerance}} |
{{/each}}

## Findings
{{#each findings}}

- **{{severity}}, {{kind}}:** {{message}}{{#if where}} ({{where}}){{/if}}{{#if mend}}<br>To mend it: {{mend}}.{{/if}}
{{else}}

Nothing else was noticed.
{{/each}}

{{#if sections}}

## What the checks measured
{{#if drawn}}

![What the checks measured: {{#each drawn}}{{#unless @first}}, {{/unless}}{{this}}{{/each}}]({{checksPlot}})
{{/if}}
{{/if}}
{{#each sections}}

### {{title}}
{{#each sentences}}

{{this}}
{{/each}}
{{#if table}}

|{{#each table.columns}} {{this}} |{{/each}}
|{{#each table.columns}} --- |{{/each}}
{{#each table.rows}}
|{{#each this}} {{this}} |{{/each}}
{{/each}}
{{/if}}
{{/each}}

## Tempo

{{#if tempo.bpm}}
{{tempo.bpm}} ± {{tempo.bpmCi95}} beats a minute; one turn of the barrel takes {{tempo.secondsPerTurn}} s.
{{else}}
No rotation could be fitted to what was heard.
{{/if}}

## Settings while recording
{{#if settings}}

| adjuster | setting |
| --- | ---: |
{{#each settings}}
| {{adjuster}} | {{setting}} |
{{/each}}
{{else}}

The machine has no adjusters.
{{/if}}

## What was heard
{{#if tracks}}

| file | track | samples a second | background | strokes used, set aside |
| --- | ---: | ---: | ---: | --- |
{{#each tracks}}
| {{file}} | {{track}} | {{sampleRate}} | {{noise}} | {{#each heard}}{{#unless @first}}; {{/unless}}{{channel}}: {{used}}, {{setAside}}{{else}}nothing{{/each}} |
{{/each}}
{{else}}

No audio: the hits come from markers alone.
{{/if}}
{{#each markers}}

Markers from {{file}}: {{read}}.
{{/each}}
{{#if setAside}}

Set aside: {{#each setAside}}{{#unless @first}}; {{/unless}}{{why}} ({{count}}){{/each}}.
{{/if}}

## How to read the numbers

- **Lateness** is a stroke's time less the time at which the reference says it was due. Zero is the reference's own mean.
  Where a lateness is meant (\`targetMs\`, \`offset ms\`) it is taken off: 0 is as meant. Where the reference itself is meant late, a channel that strikes with it shows as much late; where it is meant early, as much early.
- **mean ± interval**: the mean of the pins now fitted lies within the interval in 95 of 100 takes like this one. LATE and EARLY
  are said where the whole interval is beyond tolerance; "maybe" where it reaches across; "too unsure to say" where it holds
  zero as well. Not in it is how well the beginning of each channel's sound is known, which is the same for all its strikes:
  some tenths of a millisecond in a noisy take.
- **early · late**: the brackets are the tolerance, \`¦\` is due; \`<\` leans early, \`>\` late, \`+\` goes on past the end.
- **pin to pin** is how the pins of one group differ from each other, chance taken off. It is there at every turn, and a
  shim moves all of them together, so no shim mends it.
- **repeatability** is how one pin's stroke varies from turn to turn.
- **–** is a number that is not known.
`;

const builtIn: Template = { file: 'built-in report template', text: reportTemplate };
