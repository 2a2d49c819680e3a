/** Modules of other extensions: what they give is used, what they do wrong is told with their name and goes no further. */
import { expect, test } from 'vitest';
import type { Study } from '../../analysis/checks/check.ts';
import { readMachine } from '../../analysis/machine/read.ts';
import type { Report } from '../../analysis/results/results.ts';
import { analyseFiles } from '../../extension/work/on-values.ts';
import { loadExtras } from '../../extension/work/plugins.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { machineText, markers, patternText } from '../cli/small-machine.ts';

const plugins = [{ name: 'someone.bells', address: 'module' }];
const load = (module: unknown) => loadExtras(plugins, () => Promise.resolve(module));
const finding = { kind: 'bells:count', severity: 'note', message: 'three' };
const section = { id: 'bells', title: 'Bells', sentences: ['Three.'] };
const whole = { id: 'bells', looksFor: 'Bells.', run: () => [finding], section: () => section };

/** What the checks that were loaded say, in the order in which an analysis asks. */
async function said(module: unknown) {
  const { extraChecks } = await load(module);
  const study = {} as Study;
  const found = extraChecks.flatMap((check) => check.run(study));
  return { found, shown: extraChecks.flatMap((check) => check.section?.(study) ?? []) };
}

test('a check’s findings and its section are kept', async () => {
  expect(await said({ checks: [whole] })).toEqual({ found: [finding], shown: [section] });
  const two = { ...whole, section: () => [section, { ...section, id: 'more' }] };
  expect((await said({ checks: [two] })).shown.map(({ id }) => id)).toEqual(['bells', 'more']);
  expect((await said({ checks: [{ ...whole, section: () => null }] })).shown).toEqual([]);
});

const throwing = () => {
  throw new TypeError('x is not\na function');
};
test.each<[what: string, module: unknown, message: RegExp]>([
  [
    'a check that throws',
    { checks: [{ ...whole, run: throwing }] },
    /its check "bells" failed \(TypeError: x is not\)/,
  ],
  [
    'a section that throws',
    { checks: [{ ...whole, section: throwing }] },
    /the section of its check "bells" failed/,
  ],
  [
    'findings that are none',
    { checks: [{ ...whole, run: () => [{ kind: 'x' }] }] },
    /its check "bells" failed \(0\.kind/,
  ],
  [
    'a finding that leads out',
    { checks: [{ ...whole, run: () => [{ ...finding, file: '/etc/passwd' }] }] },
    /its check "bells" failed \(0\.file/,
  ],
  [
    'a section that is none',
    { checks: [{ ...whole, section: () => ({ id: 3 }) }] },
    /the section of its check/,
  ],
  ['an export that is none', { checks: [{ id: 'x' }] }, /its module cannot be loaded \(checks\.0/],
  ['nothing', null, /./],
])('%s: one finding that names the extension, the rest goes on', async (what, module, message) => {
  const { found } = await said(module);
  const ours = found.filter(({ kind }) => kind === 'extension-failed');
  if (what === 'nothing') return expect(ours).toEqual([]);
  expect(ours).toHaveLength(1);
  expect(ours[0].message).toMatch(/^the extension someone\.bells: [^\n]+; the analysis went on without it$/);
  expect(ours[0].message).toMatch(message);
});

test('a module that cannot be imported is told, and another one is used', async () => {
  const both = [{ name: 'a.a', address: 'gone' }, ...plugins];
  const { extraChecks } = await loadExtras(both, (address) =>
    address === 'gone' ? Promise.reject(new Error('404')) : Promise.resolve({ checks: [whole] }),
  );
  const found = extraChecks.flatMap((check) => check.run({} as Study));
  expect(found.map(({ kind }) => kind)).toEqual(['bells:count', 'extension-failed']);
});

test('an analysis with a reader and a check that throw is the one without them, and names the extension', async () => {
  const encode = (text: string) => new TextEncoder().encode(text);
  const machine = await readMachine('machine.jsonc', machineText, () => Promise.resolve(encode(patternText)));
  const files = [
    { name: 'hits.csv', bytes: encode(markers({ drum: 3 })) },
    { name: 'a.strikes', bytes: encode('STRIKES\n') },
  ];
  const analysed = async (module: unknown): Promise<Report> => {
    const analyse = analyseFiles(nodeSolver(), () => Promise.resolve(module));
    const order = { machine, name: 'may', files, earlier: null, voices: [], templates: {}, plugins };
    const { json } = await analyse(order, { turn: () => Promise.resolve(null) });
    return JSON.parse(json) as Report;
  };
  const reader = { what: 'strikes', recognises: (name: string) => name === 'a.strikes', read: throwing };
  const [bad, none] = [
    await analysed({ checks: [{ ...whole, run: throwing }], markerReaders: [reader] }),
    await analysed({ checks: [], markerReaders: [{ ...reader, read: () => Promise.resolve(null) }] }),
  ];
  expect(bad.groups).toEqual(none.groups);
  const told = bad.findings.filter(({ kind }) => kind === 'extension-failed');
  expect(told.map(({ message }) => message.split(' (')[0])).toEqual([
    'the extension someone.bells: its reader of strikes failed on a.strikes',
    'the extension someone.bells: its check "bells" failed',
  ]);
  expect(bad.findings.filter((each) => !told.includes(each))).toEqual(none.findings);
});
