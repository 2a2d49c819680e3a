/** What comes from strangers: folders on no disk, and names that would like to be more than text. */
import { createHash } from 'node:crypto';
import { readdirSync, renameSync, rmSync, symlinkSync } from 'node:fs';
import * as vscode from 'vscode';
import { temporaryName } from '../../../extension/files/temporary.ts';
import { at, problemsIn, put, read, run, there, type TakeReport } from './folder.ts';
import { equal, matches, ok, test, until } from './harness.ts';
import { MemoryFiles } from './memory.ts';

/** Adds its tests where it is called: they run in order. */
export function testsOfStrangers(): void {
  test(
    '8',
    'a folder on no disk: takes are analysed, settings recorded, and what needs git says so',
    async () => {
      const files = vscode.workspace.registerFileSystemProvider('memory', new MemoryFiles());
      const barrel = (...path: string[]) =>
        vscode.Uri.from({ scheme: 'memory', path: ['/barrel', ...path].join('/') });
      const readMemory = async (...path: string[]) =>
        new TextDecoder().decode(await vscode.workspace.fs.readFile(barrel(...path)));
      try {
        for (const path of [['machine.jsonc'], ['pattern.csv'], ['takes', '1-march', 'hits.csv']])
          await vscode.workspace.fs.writeFile(barrel(...path), new TextEncoder().encode(await read(...path)));
        ok(await run('analyseTake', barrel('takes', '1-march')), 'analysed');
        matches(await readMemory('takes', '1-march', 'report.md'), /Out of tolerance/, 'report.md');
        for (const name of ['report.svg', 'checks.svg'])
          matches(await readMemory('takes', '1-march', name), /^<svg/, name);
        matches(await readMemory('CALIBRATION.md'), /take 1-march/, 'the changelog');
        await run('enterFittedSettings', barrel(), { 'joint-AB': 1 });
        matches(await readMemory('machine.jsonc'), /"installed": 1, "min": 0, "max": 8/, 'the setting');
        matches(await readMemory('machine.jsonc'), /\/\/ said to be fussy/, 'comments stay');
        matches(await readMemory('CALIBRATION.md'), /settings fitted after take 1-march/, 'the entry');
        equal(await run('commitCalibration', barrel()), false, 'there is no git');
      } finally {
        await vscode.commands.executeCommand('workbench.action.closeAllEditors');
        files.dispose();
      }
    },
  );

  test('8', 'names full of markup, links, control codes and formulas stay text', async () => {
    const hostile =
      '<img src=x onerror=alert(1)> [click](command:workbench.action.quit) \u001b[31mred\u202e =HYPERLINK("x")';
    const take = 'take [go](command:workbench.action.quit) \u202eend';
    const text = (await read('machine.jsonc'))
      .replace('"Low drum"', JSON.stringify(hostile))
      .replace('"Weir Lane test barrel"', JSON.stringify(hostile));
    await put(text, 'hostile', 'machine.jsonc');
    await put(await read('pattern.csv'), 'hostile', 'pattern.csv');
    await put(await read('takes', '1-march', 'hits.csv'), 'hostile', 'takes', take, 'hits.csv');
    const { findings } = await run<TakeReport>('analyseTake', at('hostile', 'takes', take));
    ok(
      findings.some(({ message }) => message.includes('<img')),
      'the name is in a finding',
    );
    const invisible = /[\u0000-\u0008\u000b-\u001f\u007f\u202a-\u202e\u2066-\u2069]/;
    const [problem] = await until(() => {
      const found = problemsIn('hostile/pattern.csv');
      return found.length > 0 ? found : null;
    }, 'the problem');
    ok(problem.message.includes('<img src=x onerror=alert(1)>'), 'the words are there as they were typed');
    ok(!invisible.test(problem.message), 'nothing invisible turns them round');
    await vscode.window.showTextDocument(at('hostile', 'pattern.csv'));
    const actions = await vscode.commands.executeCommand<vscode.CodeAction[]>(
      'vscode.executeCodeActionProvider',
      at('hostile', 'pattern.csv'),
      problem.range,
    );
    ok(!actions.some(({ title }) => invisible.test(title)), 'nor the fixes');
    const hovers = await vscode.commands.executeCommand<vscode.Hover[]>(
      'vscode.executeHoverProvider',
      at('hostile', 'pattern.csv'),
      problem.range.start,
    );
    const markdown = hovers.flatMap(({ contents }) => contents) as vscode.MarkdownString[];
    const own = markdown.find(({ value }) => value.includes('onerror'))!;
    ok(own.isTrusted !== true && own.supportHtml !== true, 'the hover runs no commands and no HTML');
    ok(
      !/(?<!\\)\[(click|go)(?<!\\)\]\(/.test(own.value) && !own.value.includes('<img'),
      `links and tags are text: ${own.value}`,
    );
    ok(!invisible.test(own.value), 'nor is anything invisible in it');
    const reportText = await read('hostile', 'takes', take, 'report.md');
    ok(!/(?<!\\)\[click\]\(|<img/.test(reportText) && !invisible.test(reportText), 'report.md');
    await vscode.commands.executeCommand('workbench.action.closeAllEditors');
    await vscode.workspace.fs.delete(at('hostile'), { recursive: true });
  });

  test('8', 'links out of the machine’s folder are neither read nor written through', async () => {
    for (const path of [['machine.jsonc'], ['pattern.csv'], ['takes', '1-march', 'hits.csv']])
      await put(await read(...path), 'linked', ...path);
    const machine = await read('linked', 'machine.jsonc');
    await put('a person’s own', 'mine.txt');
    const log = at('linked', 'CALIBRATION.md').fsPath;
    symlinkSync(at('mine.txt').fsPath, log);
    equal(await run('enterFittedSettings', at('linked'), { 'joint-AB': 1 }), undefined, 'not recorded');
    equal(await run('analyseTake', at('linked', 'takes', '1-march')), undefined, 'not analysed');
    equal(await read('mine.txt'), 'a person’s own', 'the file that the log leads to');
    equal(await read('linked', 'machine.jsonc'), machine, 'the machine');
    rmSync(log);
    renameSync(at('linked', 'machine.jsonc').fsPath, at('elsewhere.jsonc').fsPath);
    symlinkSync(at('elsewhere.jsonc').fsPath, at('linked', 'machine.jsonc').fsPath);
    equal(await run('enterFittedSettings', at('linked'), { 'joint-AB': 1 }), undefined, 'not read');
    equal(await read('elsewhere.jsonc'), machine, 'the machine elsewhere');
    rmSync(at('linked', 'machine.jsonc').fsPath);
    renameSync(at('elsewhere.jsonc').fsPath, at('linked', 'machine.jsonc').fsPath);
    await put('a person’s own', 'outside', 'notes.txt');
    rmSync(at('linked', 'takes').fsPath, { recursive: true });
    symlinkSync(at('outside').fsPath, at('linked', 'takes').fsPath);
    const files = [at('takes', '1-march', 'hits.csv')];
    equal(await run('createTake', at('linked', 'machine.jsonc'), files, 'new'), undefined, 'no take made');
    equal(readdirSync(at('outside').fsPath).join(), 'notes.txt', 'the folder that takes/ leads to');
    rmSync(at('linked', 'takes').fsPath);
    for (const name of ['linked', 'mine.txt', 'outside'])
      await vscode.workspace.fs.delete(at(name), { recursive: true });
  });

  test('3', 'settings and log that a killed window left half saved are put right', async () => {
    const machine = await read('machine.jsonc');
    const log = '# Calibration\n\nA shim went in.\n';
    const sha256 = (text: string) => createHash('sha256').update(text).digest('hex');
    const [forMachine, keptMachine, forLog] = [temporaryName(), temporaryName(), temporaryName()];
    const changed = `${machine}\n// a shim went in\n`;
    await put(changed, 'halfway', forMachine);
    await put(machine, 'halfway', keptMachine);
    await put(log, 'halfway', forLog);
    const files = [
      ['machine.jsonc', forMachine, keptMachine, sha256(machine), sha256(changed)],
      ['CALIBRATION.md', forLog, null, null, sha256(log)],
    ].map(([path, temporary, kept, before, after]) => ({ path, temporary, kept, before, after }));
    await put(JSON.stringify({ schema: 1, files }), 'halfway', '.shimwright-unfinished.json');
    await put(await read('pattern.csv'), 'halfway', 'pattern.csv');
    await put(changed, 'halfway', 'machine.jsonc');
    await until(async () => there('halfway', 'CALIBRATION.md'), 'the log');
    equal(await read('halfway', 'CALIBRATION.md'), log, 'the log');
    equal(await read('halfway', 'machine.jsonc'), changed, 'the settings');
    await until(async () => !(await there('halfway', '.shimwright-unfinished.json')), 'the note goes');
    // The lock stands there for as long as a look takes, and each change of the folder is looked at.
    const left = () => readdirSync(at('halfway').fsPath).sort().join();
    await until(() => left() === 'CALIBRATION.md,machine.jsonc,pattern.csv', 'nothing else is left');
    await vscode.workspace.fs.delete(at('halfway'), { recursive: true });
  });

  test('9', 'a machine’s folder opened through a link is analysed, advised and recorded in', async () => {
    for (const path of [['machine.jsonc'], ['pattern.csv'], ['takes', '1-march', 'hits.csv']])
      await put(await read(...path), 'workshop', ...path);
    symlinkSync(at('workshop').fsPath, at('desk').fsPath);
    ok(await run('analyseTake', at('desk', 'takes', '1-march')), 'analysed');
    matches(await read('workshop', 'takes', '1-march', 'report.md'), /Out of tolerance/, 'report.md');
    equal(await run('enterFittedSettings', at('desk'), { 'joint-AB': 1 }), true, 'recorded');
    matches(await read('workshop', 'machine.jsonc'), /"installed": 1, "min": 0, "max": 8/, 'the setting');
    await vscode.commands.executeCommand('workbench.action.closeAllEditors');
    for (const name of ['desk', 'workshop']) await vscode.workspace.fs.delete(at(name), { recursive: true });
  });
}
