/** The suite for the editor with Node behind it (a desktop, or a remote host). */
import os from 'node:os';
import threads from 'node:worker_threads';
import * as vscode from 'vscode';
import type { ShimwrightExports } from '../../../extension/host/api.ts';
import { equal, matches, ok, runTests, test, until } from './harness.ts';
import { at, installed, problemsIn, put, read, report, root, run, textOf, there } from './folder.ts';
import { testsOfSeveral } from './several.ts';
import { testsOfTabs } from './tabs.ts';
import { testsOfStrangers } from './strangers.ts';

const own = () => vscode.extensions.getExtension<ShimwrightExports>('shimwright.shimwright')!;
test('1', 'a folder with machine.jsonc activates it', async () => {
  await until(() => own().isActive, 'activation');
  const commands = await vscode.commands.getCommands(true);
  const declared = (own().packageJSON as { contributes: { commands: { command: string }[] } }).contributes
    .commands;
  for (const { command } of declared) ok(commands.includes(command), `${command} is registered`);
});

/** The processor's time of the whole process, which is what activation takes by the clock where nothing else runs. */
test('1', 'activation takes less than 50 ms of the processor, loading included', async () => {
  await own().activate();
  const [{ duration, detail }] = performance.getEntriesByName('shimwright.activate') as PerformanceMeasure[];
  const { processorMs } = detail as { processorMs: number };
  await put(
    `${duration.toFixed(1)} by the clock, ${processorMs.toFixed(1)} of the processor`,
    'results.activation-ms',
  );
  ok(processorMs > 0 && processorMs < 50, `it took ${processorMs.toFixed(1)} ms`);
});

test('2', 'stale takes are analysed, and the editor answers meanwhile', async () => {
  const settings = vscode.workspace.getConfiguration('shimwright');
  await settings.update('openReportAfterAnalysis', false, vscode.ConfigurationTarget.Workspace);
  let longestMs = 0;
  let last = performance.now();
  const beat = setInterval(() => {
    const now = performance.now();
    longestMs = Math.max(longestMs, now - last);
    last = now;
  }, 20);
  const reports = await run<unknown[]>('analyseStaleTakes', root());
  clearInterval(beat);
  equal(reports.length, 2, 'reports');
  await put(`${longestMs.toFixed(0)}`, 'results.longest-pause-ms');
  const { groups } = await report('1-march');
  const drumA = groups.find(({ channel, sector }) => channel === 'drum' && sector === 'A')!;
  // The take was written with the drum 3 ms late and 0.1 ms of chance.
  ok(Math.abs(drumA.meanMs - 3) < 0.3, `the drum is 3 ms late in A, got ${drumA.meanMs}`);
  for (const name of ['report.md', 'report.svg']) ok(await there('takes', '1-march', name), name);
  matches(await read('CALIBRATION.md'), /take 2-april/, 'the changelog');
});

test('2', 'a take that is up to date is left alone, one whose markers changed is not', async () => {
  equal((await run<unknown[]>('analyseStaleTakes', root())).length, 0, 'nothing is due');
  const markers = await read('takes', '2-april', 'hits.csv');
  await put(markers, 'takes', '2-april', 'hits.csv');
  equal((await run<unknown[]>('analyseStaleTakes', root())).length, 0, 'the same contents are no change');
  await put(`${markers}\n`, 'takes', '2-april', 'hits.csv');
  equal((await run<unknown[]>('analyseStaleTakes', root())).length, 1, 'one is due');
});

test('2', 'what stops an analysis becomes a problem at its place', async () => {
  const before = await read('takes', '1-march', 'take.jsonc');
  await put('{\n  "tempo": "fast"\n}\n', 'takes', '1-march', 'take.jsonc');
  equal(await run('analyseTake', at('takes', '1-march')), undefined, 'no report');
  const [problem] = await until(() => {
    const found = vscode.languages
      .getDiagnostics(at('takes', '1-march', 'take.jsonc'))
      .filter(({ source }) => source === 'Shimwright');
    return found.length > 0 ? found : null;
  }, 'the problem');
  equal([problem.range.start.line, problem.range.start.character], [1, 11], 'line 2, column 12');
  await put(before, 'takes', '1-march', 'take.jsonc');
  ok(await run('analyseTake', at('takes', '1-march')), 'mended');
  equal(
    vscode.languages.getDiagnostics(at('takes', '1-march', 'take.jsonc')).length,
    0,
    'the problem is gone',
  );
});

test('5', 'a misplaced pin stands in the Problems panel on its row, with two fixes', async () => {
  const finding = (await report('2-april')).findings.find(({ kind }) => kind === 'misplaced-pin');
  equal([finding?.step, finding?.foundStep], [6, 7], 'the pin');
  const lines = (await read('pattern.csv')).split('\n');
  const [problem] = await until(() => {
    const found = problemsIn('pattern.csv');
    return found.length > 0 ? found : null;
  }, 'the problem');
  equal(lines[problem.range.start.line], '6,drum', 'its row');
  await vscode.window.showTextDocument(at('pattern.csv'));
  const actions = await vscode.commands.executeCommand<vscode.CodeAction[]>(
    'vscode.executeCodeActionProvider',
    at('pattern.csv'),
    problem.range,
  );
  const ours = actions.filter(({ title }) => /barrel is right|pattern is right/.test(title));
  equal(ours.length, 2, 'fixes');
  const note = ours.find(({ title }) => /pattern is right/.test(title))!;
  await vscode.commands.executeCommand(
    note.command!.command,
    ...((note.command!.arguments ?? []) as unknown[]),
  );
  matches(await read('CALIBRATION.md'), /Pins to move: Low drum from step 7 to 6/, 'the changelog');
  const write = ours.find(({ title }) => /barrel is right/.test(title))!;
  await vscode.workspace.applyEdit(write.edit!);
  await (await vscode.workspace.openTextDocument(at('pattern.csv'))).save();
  equal((await read('pattern.csv')).split('\n')[problem.range.start.line], '7,drum', 'the row');
  await until(() => problemsIn('pattern.csv').length === 0, 'the problem goes');
  await put(lines.join('\n'), 'pattern.csv');
  await until(() => problemsIn('pattern.csv').length > 0, 'the problem comes back');
});

test('5', 'a setting out of its range is marked where it stands', async () => {
  const before = await read('machine.jsonc');
  await put(before.replace('"installed": 5', '"installed": 12'), 'machine.jsonc');
  const found = await until(() => problemsIn('machine.jsonc')[0], 'the problem');
  matches(found.message, /lever-drum stood at 12 shim, outside its 0 to 9/, 'its words');
  const document = await vscode.workspace.openTextDocument(at('machine.jsonc'));
  equal(document.getText(found.range), '12', 'its place');
  await put(before, 'machine.jsonc');
  await until(() => problemsIn('machine.jsonc').length === 0, 'the problem goes');
});

test('5', 'a marker that cannot be read is marked in its file', async () => {
  const before = await read('takes', '2-april', 'hits.csv');
  const rows = before.split('\n');
  rows[4] = 'soon,drum';
  await put(rows.join('\n'), 'takes', '2-april', 'hits.csv');
  ok(await run('analyseTake', at('takes', '2-april')), 'analysed');
  const file = at('takes', '2-april', 'hits.csv');
  const found = await until(
    () => vscode.languages.getDiagnostics(file).find(({ code }) => code === 'unreadable-marker'),
    'the problem',
  );
  equal(found.range.start.line, 4, 'its line');
  await put(before, 'takes', '2-april', 'hits.csv');
  ok(await run('analyseTake', at('takes', '2-april')), 'analysed again');
  await until(() => vscode.languages.getDiagnostics(file).length === 0, 'the problem goes');
});

test('5', 'the schema completes machine.jsonc, and hovering shows what a key means', async () => {
  const document = await vscode.workspace.openTextDocument(at('machine.jsonc'));
  await vscode.window.showTextDocument(document);
  const offset = document.getText().indexOf('"reference"');
  const hovers = await until(async () => {
    const found = await vscode.commands.executeCommand<vscode.Hover[]>(
      'vscode.executeHoverProvider',
      document.uri,
      document.positionAt(offset + 3),
    );
    return found.length > 0 ? found : null;
  }, 'the hover');
  matches(textOf(hovers), /Channel against which all others are timed/, 'the words');
  const inside = document.getText().indexOf('{ "id": "bell"') + 2;
  const list = await vscode.commands.executeCommand<vscode.CompletionList>(
    'vscode.executeCompletionItemProvider',
    document.uri,
    document.positionAt(inside),
  );
  const labels = list.items.map(({ label }) => (typeof label === 'string' ? label : label.label));
  ok(labels.includes('toleranceMs'), `"toleranceMs" is offered, got ${labels.join(' ')}`);
});

test('5', 'hovering over a row of the pattern shows what its pin did in each take', async () => {
  const document = await vscode.workspace.openTextDocument(at('pattern.csv'));
  const line = document.getText().split('\n').indexOf('9,drum');
  const hovers = await vscode.commands.executeCommand<vscode.Hover[]>(
    'vscode.executeHoverProvider',
    document.uri,
    new vscode.Position(line, 1),
  );
  const text = textOf(hovers);
  matches(text, /Low drum.*step 9/s, 'which pin');
  ok(text.indexOf('2-april') < text.indexOf('1-march'), 'newest first');
});

test('4', 'proposed settings open as the editor’s own comparison, and nothing is written', async () => {
  const before = await read('machine.jsonc');
  await run('reviewSettings', root());
  const input = vscode.window.tabGroups.activeTabGroup.activeTab?.input;
  ok(input instanceof vscode.TabInputTextDiff, 'a diff is open');
  equal(input.original.path, at('machine.jsonc').path, 'left');
  const right = (await vscode.workspace.openTextDocument(input.modified)).getText();
  ok(
    right !== before && right.includes('// said to be fussy'),
    'right has other settings and the same comments',
  );
  equal(await read('machine.jsonc'), before, 'machine.jsonc');
});

test(
  '4',
  'the work sheet is written beside machine.jsonc and shown, and never over a person’s own',
  async () => {
    const uri: vscode.Uri | null = await run('writeWorkSheet', root());
    equal(uri?.path, at('work-sheet.html').path, 'where it is');
    const text = await read('work-sheet.html');
    matches(text, /lever-drum: from 5 to \d/, 'what to change');
    equal(
      vscode.window.tabGroups.activeTabGroup.activeTab?.label,
      'Work sheet: Weir Lane test barrel',
      'its tab',
    );
    await vscode.workspace.fs.writeFile(
      at('work-sheet.html'),
      new TextEncoder().encode(`${text}my own words`),
    );
    await run('writeWorkSheet', root()).then(undefined, () => undefined);
    matches(await read('work-sheet.html'), /my own words$/, 'what a person wrote');
    await vscode.workspace.fs.delete(at('work-sheet.html'));
  },
);

testsOfTabs();

test('4', 'what was really fitted is written with its entry, and only that', async () => {
  await run('enterFittedSettings', root(), { 'lever-drum': 4 });
  equal([await installed('lever-drum'), await installed('joint-AB')], [4, 3], 'settings');
  matches(await read('CALIBRATION.md'), /settings fitted after take 2-april/, 'the changelog');
  matches(await read('CALIBRATION.md'), /\| lever-drum \| shim \| 5 \| 4 \|/, 'the row');
  matches(await read('machine.jsonc'), /\/\/ said to be fussy/, 'comments stay');
});

test('4', 'a single proposed setting is accepted, then all the rest', async () => {
  const entries = (await read('CALIBRATION.md')).split('settings fitted').length;
  await run('acceptSomeSettings', root(), ['joint-AB']);
  const joint = await installed('joint-AB');
  ok(joint < 3, `joint-AB is taken down, got ${joint}`);
  equal(await installed('lever-drum'), 4, 'lever-drum waits');
  await run('acceptAllSettings', root(), true);
  ok((await installed('lever-drum')) < 4, 'lever-drum is taken down');
  equal((await read('CALIBRATION.md')).split('settings fitted').length, entries + 2, 'entries');
});

test(
  '4',
  'Stage Calibration stages all that belongs to it and adds its message to what was typed',
  async () => {
    const strays = ['voices/drum.json', 'takes/2-april/more.csv', 'takes/2-april/session.wav'];
    for (const name of strays) await put('time,label\n1,a remark\n', name);
    const git = vscode.extensions
      .getExtension<{
        getAPI(version: 1): {
          repositories: { state: { indexChanges: { uri: vscode.Uri }[] }; inputBox: { value: string } }[];
        };
      }>('vscode.git')!
      .exports.getAPI(1);
    git.repositories[0].inputBox.value = 'After the dry week';
    equal(await run('commitCalibration', root()), true, 'done');
    equal(await run('commitCalibration', root()), true, 'done again');
    const [repository] = git.repositories;
    const staged = repository.state.indexChanges
      .map(({ uri }) => uri.path.slice(root().path.length + 1))
      .sort();
    for (const name of [
      'CALIBRATION.md',
      'machine.jsonc',
      'takes/1-march/report.json',
      'takes/2-april/report.md',
      'voices/drum.json',
      'takes/2-april/more.csv',
    ])
      ok(staged.includes(name), `${name} is staged, of ${staged.join(' ')}`);
    ok(!staged.includes('takes/2-april/session.wav'), 'a recording is left to the person');
    for (const name of strays) await vscode.workspace.fs.delete(at(name));
    matches(
      repository.inputBox.value,
      /^After the dry week\n\nCalibrate: joint-AB 3 → \d, lever-drum 5 → \d\n\nTake 2-april: [^\n]+$/,
      'the message',
    );
  },
);

test('6', 'two takes are compared as a page and as Markdown', async () => {
  const uri = await run<vscode.Uri>('compareTakes', root(), ['1-march', '2-april']);
  const text = (await vscode.workspace.openTextDocument(uri)).getText();
  matches(text, /# 1-march → 2-april[^]*## What moved[^]*Low drum \| A/, 'the comparison');
  const tabs = () => vscode.window.tabGroups.all.flatMap((group) => group.tabs.map(({ label }) => label));
  equal(tabs().includes('Compare: 1-march → 2-april'), true, `both over each other: ${tabs().join(', ')}`);
  await run('copyComparison', uri);
  equal(await vscode.env.clipboard.readText(), text, 'the clipboard');
});

test('6', 'a report is compared with itself in a commit', async () => {
  const git = vscode.extensions
    .getExtension<{
      getAPI(version: 1): {
        repositories: { commit(m: string): Promise<void>; log(o: object): Promise<{ hash: string }[]> }[];
      };
    }>('vscode.git')!
    .exports.getAPI(1);
  const [repository] = git.repositories;
  await repository.commit('Calibrated');
  const [{ hash }] = await repository.log({ maxEntries: 1 });
  const hits = await read('takes', '2-april', 'hits.csv');
  await put(
    hits.replaceAll(/^(.*),bell$/gm, (_, time: string) => `${(Number(time) + 0.004).toFixed(7)},bell`),
    'takes',
    '2-april',
    'hits.csv',
  );
  ok(await run('analyseTake', at('takes', '2-april')), 'analysed');
  const uri = await run<vscode.Uri>('compareCommits', at('takes', '2-april'), [hash, null]);
  const text = (await vscode.workspace.openTextDocument(uri)).getText();
  matches(
    text,
    /\| bell \| A \| [^|]* \| [^|]* \| \+4\.\d\d ± [^|]* \| \*\*later\*\*/,
    'the bell moved by 4 ms',
  );
});

test('7', 'another extension adds a check and a marker reader', async () => {
  const second = vscode.extensions.getExtension<{ dispose(): void }>('example.shimwright-example')!;
  const theirs = await second.activate();
  await put('STRIKES 1\n0.5 block\n', 'takes', '2-april', 'extra.strikes');
  const { findings } = await run<Awaited<ReturnType<typeof report>>>('analyseTake', at('takes', '2-april'));
  const own = findings.find(({ kind }) => kind === 'example:bell-count');
  ok(own, `their finding is there, of ${findings.map(({ kind }) => kind).join(' ')}`);
  ok(
    !findings.some(({ message }) => /extra\.strikes is not used/.test(message)),
    'their reader reads its file',
  );
  theirs.dispose();
  await vscode.workspace.fs.delete(at('takes', '2-april', 'extra.strikes'));
  const later = await run<Awaited<ReturnType<typeof report>>>('analyseTake', at('takes', '2-april'));
  ok(!later.findings.some(({ kind }) => kind === 'example:bell-count'), 'gone with its registration');
});

test('7', 'a version that is not there is refused', async () => {
  let refused = '';
  try {
    (await own().activate()).getApi(2 as 1);
  } catch (error) {
    refused = String(error);
  }
  matches(refused, /version 1/, 'the error');
});

test('1', 'New Machine writes a machine that can be read, and New Take a folder with its files', async () => {
  const folder = at('new');
  const answers = {
    name: 'Quoted "name" // here',
    steps: 24,
    stepsPerBeat: 4,
    diameterMm: 300,
    sectors: 3,
    channels: ['block', 'drum'],
  };
  await run('createMachine', folder, answers);
  await until(
    () => vscode.languages.getDiagnostics(vscode.Uri.joinPath(folder, 'machine.jsonc')).length === 0,
    'no fault',
  );
  matches(await read('new', 'machine.jsonc'), /"joint-BC"/, 'its joints');
  await run(
    'createTake',
    vscode.Uri.joinPath(folder, 'machine.jsonc'),
    [at('takes', '1-march', 'hits.csv')],
    'first',
  );
  ok(await there('new', 'takes', 'first', 'hits.csv'), 'the copied file');
  matches(
    await read('new', 'takes', 'first', 'take.jsonc'),
    /"recorded": "\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d"/,
    'take.jsonc',
  );
  const before = await read('new', 'machine.jsonc');
  await run('createMachine', folder, answers);
  equal(await read('new', 'machine.jsonc'), before, 'nothing is overwritten');
  await vscode.workspace.fs.delete(folder, { recursive: true });
});

test('8', 'trust, virtual workspaces, few settings and translations are declared', async () => {
  const manifest = own().packageJSON as {
    capabilities: Record<string, { supported: unknown }>;
    contributes: { configuration: { properties: object }; commands: { title: string; category: string }[] };
  };
  equal(manifest.capabilities.untrustedWorkspaces.supported, 'limited', 'trust');
  equal(manifest.capabilities.virtualWorkspaces.supported, 'limited', 'virtual');
  ok(Object.keys(manifest.contributes.configuration.properties).length <= 3, 'few settings');
  for (const { title, category } of manifest.contributes.commands) {
    ok(!title.startsWith('%'), `${title} is in package.nls.json`);
    equal(category, 'Shimwright', 'category');
  }
  await Promise.resolve();
});

testsOfSeveral(os, 'availableParallelism', (count) => () => count, threads);
testsOfStrangers();

export { runTests as run };
