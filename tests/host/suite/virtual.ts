/** The suite for a workspace that lies on no disk; Node is behind the editor, and is not to be asked for its files. */
import * as vscode from 'vscode';
import { at, problemsIn, put, read, root, run, there, type TakeReport } from './folder.ts';
import { equal, leaveResultsIn, matches, ok, runTests, test, until } from './harness.ts';

const own = () => vscode.extensions.getExtension('shimwright.shimwright')!;
interface GitApi {
  openRepository(root: vscode.Uri): Promise<unknown>;
}

/** The folder that the workspace is a copy of; it lies in a git repository. */
const onDisk = (...path: string[]) =>
  vscode.Uri.joinPath(own().extensionUri, '..', 'folder-virtual', ...path);

test('virtual', 'its view stands in the Explorer, and opening it activates the extension', async () => {
  equal(root().toString(), 'shelf:/', 'the workspace');
  await until(async () => {
    await vscode.commands.executeCommand('shimwright.takes.focus');
    return own().isActive;
  }, 'activation');
});

test('virtual', 'takes are analysed, and their files written into that file system alone', async () => {
  await vscode.workspace
    .getConfiguration('shimwright')
    .update('openReportAfterAnalysis', false, vscode.ConfigurationTarget.Global);
  const reports = await run<TakeReport[]>('analyseStaleTakes', root());
  equal(reports.length, 2, 'reports');
  for (const name of ['report.json', 'report.md', 'report.svg', 'checks.svg'])
    ok(await there('takes', '2-april', name), name);
  matches(await read('takes', '1-march', 'report.md'), /Out of tolerance/, 'report.md');
  matches(await read('CALIBRATION.md'), /take 2-april/, 'the changelog');
  equal(
    (await vscode.workspace.fs.readDirectory(onDisk('takes', '2-april'))).map(([name]) => name).sort(),
    ['hits.csv', 'take.jsonc'],
    'the folder on the disk',
  );
  await until(() => problemsIn('pattern.csv').length > 0, 'the misplaced pin in the Problems panel');
  equal((await run<unknown[]>('analyseStaleTakes', root())).length, 0, 'nothing is due');
});

test(
  'virtual',
  'a file of a take is enough to say which take is meant, and its fault goes once mended',
  async () => {
    const described = await read('takes', '2-april', 'take.jsonc');
    const faults = () => vscode.languages.getDiagnostics(at('takes', '2-april', 'take.jsonc'));
    await put('{ "tempo": "fast" }\n', 'takes', '2-april', 'take.jsonc');
    equal(await run('analyseTake', at('takes', '2-april', 'hits.csv')), undefined, 'no report');
    await until(() => faults().length > 0, 'the problem');
    await put(described, 'takes', '2-april', 'take.jsonc');
    ok(await run('analyseTake', at('takes', '2-april', 'hits.csv')), 'analysed again');
    equal(faults().length, 0, 'problems');
  },
);

test('virtual', 'settings are proposed and accepted', async () => {
  await run('acceptAllSettings', root(), true);
  matches(await read('CALIBRATION.md'), /settings fitted after take 2-april/, 'the changelog');
});

test(
  'virtual',
  'takes are compared; commits are not, although a repository of the disk has the same path',
  async () => {
    ok(await run('compareTakes', root(), ['1-march', '2-april']), 'the comparison of takes');
    equal(await run('compareCommits', at('takes', '2-april'), ['HEAD', null]), null, 'of commits');
    const git = vscode.extensions.getExtension<{ getAPI(version: 1): GitApi }>('vscode.git')!;
    ok(await (await git.activate()).getAPI(1).openRepository(onDisk()), 'the repository of the disk is open');
    const same = onDisk().with({ scheme: 'shelf', authority: '' });
    ok(await run('analyseTake', vscode.Uri.joinPath(same, 'takes', '1-march')), 'analysed');
    equal(await run('commitCalibration', same), false, 'nothing is staged');
  },
);

leaveResultsIn(onDisk);

export { runTests as run };
