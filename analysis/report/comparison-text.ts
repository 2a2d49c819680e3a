/** A comparison in words: as Markdown for a commit or a pull request, and as a table in a terminal. */
import { withMinus } from '../words/minus.ts';
import type { Finding } from '../results/results.ts';
import { type Comparison, type MovedGroup, significance } from './compare.ts';
import { markdownText, oneLine } from './markdown-text.ts';
import { judgementWords, plural, withInterval } from './reading.ts';
import { fitColumns, wrapped } from './terminal-text.ts';

/** Markdown; every label is inert. */
export function renderComparison(comparison: Comparison): string {
  const { groups, settings, came, went } = comparison;
  const text = (value: string) => markdownText(value);
  const findings = (list: readonly Finding[]) =>
    list.length === 0
      ? ['None.']
      : list.map(({ severity, kind, message }) => `- **${severity}, ${kind}:** ${text(message)}`);
  return [
    `# ${text(comparison.before.take)} → ${text(comparison.after.take)}`,
    '',
    ...(comparison.sameMachine
      ? [`${text(comparison.after.machine)}.`]
      : [`**${text(differentMachines(comparison))}**`]),
    `${text(when(comparison))} ${text(tempoWords(comparison))}`,
    '',
    `**${text(outcome(comparison))}**`,
    '',
    '## What moved',
    '',
    '| channel | sector | before, ms | after, ms | moved, ms | | tolerance |',
    '| --- | --- | ---: | ---: | ---: | --- | --- |',
    ...groups.map(
      (group) =>
        `| ${text(group.name)} | ${text(group.sector)} | ${withInterval(group.beforeMs, group.beforeCi95Ms)} | ${withInterval(group.afterMs, group.afterCi95Ms)} | ${withInterval(group.movedMs, group.movedCi95Ms)} | ${group.moreThanChance === true ? `**${chanceWords(group)}**` : chanceWords(group)} | ${toleranceWords(group)} |`,
    ),
    '',
    '## Settings that changed',
    '',
    ...(settings.length === 0
      ? ['None.']
      : [
          '| adjuster | before | after |',
          '| --- | ---: | ---: |',
          ...settings.map(
            ({ adjuster, before, after }) =>
              `| ${text(adjuster)} | ${withMinus(before ?? '–')} | ${withMinus(after ?? '–')} |`,
          ),
        ]),
    '',
    '## Findings that came',
    '',
    ...findings(came),
    '',
    '## Findings that went',
    '',
    ...findings(went),
    '',
    methodNote,
    '',
  ].join('\n');
}

export const methodNote = `“More than chance” is Welch’s test on each group’s mean with Holm’s correction over all of them, at ${significance * 100} %. It weighs turn-to-turn chance only: taking parts out and putting them back moves things too.`;

/** Up to 100 columns; groups that moved no more than chance are counted, not listed. */
export function comparisonTable(comparison: Comparison): string {
  const { groups, settings, came, went, before, after } = comparison;
  const moved = groups.filter(({ moreThanChance }) => moreThanChance === true);
  const lines = [wrapped(`${oneLine(before.take)} → ${oneLine(after.take)}: ${oneLine(after.machine)}`)];
  if (!comparison.sameMachine) lines.push(wrapped(differentMachines(comparison)));
  lines.push(
    wrapped(`${when(comparison)} ${tempoWords(comparison)}`.trim()),
    '',
    wrapped(outcome(comparison)),
  );
  if (moved.length > 0) {
    lines.push('', row(['moved, ms', 'sector', 'before', 'after', 'moved', 'tolerance']));
    for (const group of moved) {
      const { name, sector, beforeMs, beforeCi95Ms, afterMs, afterCi95Ms, movedMs, movedCi95Ms } = group;
      const cells = [
        withInterval(beforeMs, beforeCi95Ms),
        withInterval(afterMs, afterCi95Ms),
        withInterval(movedMs, movedCi95Ms),
      ];
      lines.push(row([name, sector, ...cells, toleranceWords(group)]));
    }
  }
  if (settings.length > 0) lines.push('', 'settings that changed');
  for (const { adjuster, before, after } of settings) {
    lines.push(
      `  ${fitColumns(adjuster, 30)} ${fitColumns(withMinus(before ?? '–'), 6, 'right')} → ${withMinus(after ?? '–')}`,
    );
  }
  for (const [head, list] of [
    ['findings that came', came],
    ['findings that went', went],
  ] as const) {
    if (list.length > 0) lines.push('', head);
    for (const { severity, message } of list)
      lines.push(`  ${wrapped(`${severity}: ${oneLine(message)}`, '    ').replace(/^ +/, '')}`);
  }
  return lines.join('\n');
}

function row([name, sector, before, after, moved, word]: readonly string[]): string {
  const cells = [
    fitColumns(name, 18),
    fitColumns(sector, 6),
    ...[before, after, moved].map((cell) => fitColumns(cell, 14, 'right')),
  ];
  return [...cells, fitColumns(word, 27)].join(' ').trimEnd();
}

function differentMachines({ before, after }: Comparison): string {
  return `The reports are of different machines (${oneLine(before.machine)}, ${oneLine(after.machine)}): channels and sectors of one name are compared, and may not be the same parts.`;
}

function when({ before, after }: Comparison): string {
  if (before.recorded === null || after.recorded === null) return '';
  return `Recorded ${oneLine(before.recorded)} and ${oneLine(after.recorded)}.`;
}

function tempoWords({ tempo }: Comparison): string {
  const { beforeBpm, afterBpm, changeBpm, changeCi95Bpm } = tempo;
  if (beforeBpm === null || afterBpm === null || changeBpm === null) return '';
  const from = `Tempo ${beforeBpm.toFixed(2)} → ${afterBpm.toFixed(2)} beats a minute`;
  if (changeCi95Bpm === null) return `${from}.`;
  return `${from}, ${Math.abs(changeBpm) > changeCi95Bpm ? 'more than' : 'within'} what the two intervals allow.`;
}

/** What a comparison says before its tables, a line each: whose it is, when and at what tempo, and what moved. */
export function comparisonHead(comparison: Comparison): string[] {
  const { sameMachine, after } = comparison;
  return [
    sameMachine ? `${oneLine(after.machine)}.` : differentMachines(comparison),
    `${when(comparison)} ${tempoWords(comparison)}`.trim(),
    outcome(comparison),
  ].filter((line) => line !== '');
}

function outcome({ groups, tunes }: Comparison): string {
  const moved = groups.filter(({ moreThanChance }) => moreThanChance === true);
  if (tunes !== null)
    return `They are takes of different tunes (${tunes.map(oneLine).join(', ')}): their pins are others, and no group is compared.`;
  const compared = groups.filter(({ moreThanChance }) => moreThanChance !== null);
  if (compared.length === 0) return 'No group was measured in both.';
  const head =
    moved.length === 0
      ? 'Nothing moved by more than chance'
      : `${moved.length} of ${plural(compared.length, 'group')} moved by more than chance`;
  const into = compared.filter((g) => g.judgedBefore !== 'within' && g.judgedAfter === 'within').length;
  const out = compared.filter((g) => g.judgedBefore === 'within' && g.judgedAfter !== 'within').length;
  const changes = [into > 0 ? `${into} came into tolerance` : '', out > 0 ? `${out} left it` : ''].filter(
    (part) => part !== '',
  );
  const lost = groups.length - compared.length;
  return `${[head, ...changes].join('; ')}.${lost > 0 ? ` ${plural(lost, 'group')} could not be compared.` : ''}`;
}

export function chanceWords({ moreThanChance, movedMs }: MovedGroup): string {
  if (moreThanChance === null) return 'not comparable';
  if (!moreThanChance) return 'no more than chance';
  return (movedMs ?? 0) > 0 ? 'later' : 'earlier';
}

/** "LATE → in tolerance" */
export function toleranceWords({ judgedBefore, judgedAfter }: MovedGroup): string {
  const after = judgementWords[judgedAfter];
  return judgedBefore === judgedAfter ? after : `${judgementWords[judgedBefore]} → ${after}`;
}
