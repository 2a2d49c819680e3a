/** The suite for the web extension host: the same extension without Node, its analysis in a Web Worker. */
import * as vscode from 'vscode';
import type { ShimwrightExports } from '../../../extension/host/api.ts';
import type { Finding } from '../../../analysis/results/results.ts';
import { writeWav } from '../../../samples/wav.ts';
import { session } from '../../hits/solo-session.ts';
import { struck } from '../../hits/struck.ts';
import { equal, matches, ok, runTests, test, until } from './harness.ts';
import { at, put, read, root, run } from './folder.ts';
import { testsOfSeveral } from './several.ts';

const own = () => vscode.extensions.getExtension('shimwright.shimwright')!;

test('web', 'it is activated in the web extension host', async () => {
  await until(() => own().isActive, 'activation');
  // With Node behind it the editor would say "file", and there would be no such function.
  equal(own().extensionUri.scheme, 'vscode-remote', 'the scheme');
  equal(typeof (globalThis as { importScripts?: unknown }).importScripts, 'function', 'a Web Worker');
  equal(vscode.env.uiKind, vscode.UIKind.Web, 'the kind of editor');
});

test('web', 'takes of markers are analysed in a Web Worker, and their files written', async () => {
  await vscode.workspace
    .getConfiguration('shimwright')
    .update('openReportAfterAnalysis', false, vscode.ConfigurationTarget.Workspace);
  const reports = await run<{ advice: { settings: unknown[] } }[]>('analyseStaleTakes', root());
  equal(reports.length, 2, 'reports');
  matches(await read('takes', '1-march', 'report.md'), /Out of tolerance/, 'report.md');
  matches(await read('CALIBRATION.md'), /take 2-april/, 'the changelog');
  ok(reports[1].advice.settings.length > 0, 'the solver worked');
});

testsOfSeveral(navigator, 'hardwareConcurrency', (count) => count, globalThis);

test('web', 'settings are proposed and accepted', async () => {
  await run('acceptAllSettings', root(), true);
  matches(await read('CALIBRATION.md'), /settings fitted after take 2-april/, 'the changelog');
});

test('web', 'another extension’s check runs in the Web Worker', async () => {
  const exported = (await own().activate()) as ShimwrightExports;
  await vscode.workspace.fs.copy(
    own().extensionUri.with({ path: `${own().extensionUri.path}/tests/checks.mjs` }),
    at('checks.mjs'),
  );
  const registration = exported.getApi(1).registerModule(at('checks.mjs'));
  await put('{ "recorded": "2026-04-02T10:00", "note": "again" }\n', 'takes', '2-april', 'take.jsonc');
  const report = await run<{ findings: { kind: string }[] }>('analyseTake', at('takes', '2-april'));
  ok(
    report?.findings.some(({ kind }) => kind === 'example:bell-count'),
    'their finding',
  );
  registration.dispose();
});

test('web', 'the demo take is heard in the Web Worker', async () => {
  const report = await run<{ findings: Finding[]; tempo: { bpm: number } }>(
    'analyseTake',
    at('demo', 'takes', '1-as-built'),
  );
  const misplaced = report.findings.filter(({ kind }) => kind === 'misplaced-pin');
  // samples/demo-truth.ts: what was played.
  equal(
    misplaced.map(({ channel, step, foundStep }) => [channel, step, foundStep]),
    [['rim-right', 117, 118]],
    'misplaced pins',
  );
  matches(await read('demo', 'takes', '1-as-built', 'report.md'), /Out of tolerance/, 'report.md');
});

test('web', 'the drive is told at another tempo, and a take’s voices are saved', async () => {
  const uri = await run<vscode.Uri>('showTempo', at('demo', 'machine.jsonc'), 96);
  const text = (await vscode.workspace.openTextDocument(uri)).getText();
  matches(text, /at 96 beats a minute/, 'the head');
  matches(text, /Motor set-point \d/, 'the set-point');
  const channels = await run<string[]>('saveVoices', at('demo', 'takes', '1-as-built'));
  ok(channels.length > 0, 'voices');
  matches(await read('demo', 'voices', `${channels[0]}.json`), /"channel"/, 'a voice');
});

test('web', 'solos by hand teach how the strikers sound', async () => {
  const sampleRate = 16_000;
  const { tracks } = session({
    sampleRate,
    sounds: [struck(900, 0.1, sampleRate), struck(220, 0.2, sampleRate), struck(2000, 0.3, sampleRate)],
    metres: [[0.2], [0.3], [0.4]],
    gainDb: [-18],
    noiseDb: -50,
    strikes: 10,
    seed: 3,
  });
  await vscode.workspace.fs.writeFile(at('solos.wav'), writeWav(sampleRate, tracks));
  const order = 'bell, drum, block';
  const channels = await run<string[]>('learnSolos', root(), { files: [at('solos.wav')], order });
  equal(channels, ['bell', 'drum', 'block'], 'voices, in the order in which they were struck');
  matches(await read('voices', 'drum.json'), /"strikes": 10/, 'a voice');
});

export { runTests as run };
