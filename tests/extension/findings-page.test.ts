/** The guide's page of checks, finding kinds and marker formats is what the code has; `npm run guide` writes it anew. */
import { expect, test } from 'vitest';
import { checks } from '../../analysis/checks/index.ts';
import { catalogue } from '../../analysis/results/catalogue.ts';
import { markerReaders } from '../../analysis/take/markers/index.ts';

const cell = (text: string) => text.replaceAll('|', '\\|').replaceAll('\n', ' ');
const table = (head: readonly string[], rows: readonly (readonly string[])[]) =>
  [head, head.map(() => '---'), ...rows].map((row) => `| ${row.map(cell).join(' | ')} |`).join('\n');

const page = `# What is looked for, and what findings say

Written from the code by \`npm run guide\`.

## How grave a finding is

- **error**: what was recorded and what was entered contradict each other, so that nothing can be relied on until it is mended.
- **warning**: a number is in doubt, or there is something to mend that shims do not mend.
- **note**: worth a look; nothing waits for it.

## What each check looks for

${checks.map(({ looksFor }) => `- ${looksFor}`).join('\n')}

## Kinds of findings

${table(
  ['kind, as in report.json', 'how grave', 'what to do'],
  Object.entries(catalogue).map(([kind, { severity, mend }]) => [`\`${kind}\``, severity, mend]),
)}

## Formats of markers

${markerReaders.map(({ what }) => `- ${what}`).join('\n')}
`;

test('extension/guide/findings.md is what the code has (npm run guide writes it anew)', async () => {
  await expect(page).toMatchFileSnapshot('../../extension/guide/findings.md');
});
