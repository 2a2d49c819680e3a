/** What the commands show in tabs of their own, and a recording that becomes a take. */
import * as vscode from 'vscode';
import { recording } from '../../cli/small-recording.ts';
import { at, put, read, root, run, there } from './folder.ts';
import { equal, matches, ok, test, until } from './harness.ts';

/** Asks for takes that were analysed. */
export function testsOfTabs(): void {
  test('4', 'the pattern opens as the barrel unrolled, beside its text', async () => {
    const uri = await run<vscode.Uri>('showBarrel', root());
    equal(uri.path, at('pattern.csv').path, 'the file');
    await until(() => {
      const input = vscode.window.tabGroups.activeTabGroup.activeTab?.input;
      return input instanceof vscode.TabInputCustom && input.viewType === 'shimwright.barrel';
    }, 'the tab');
    await vscode.commands.executeCommand('workbench.action.closeActiveEditor');
  });

  test('4', 'what to calibrate next and a take’s strokes are texts in tabs', async () => {
    const next = await vscode.workspace.openTextDocument(await run<vscode.Uri>('showNext', root()));
    matches(next.getText(), /^channel +A +B\n/, 'the matrix');
    matches(next.getText(), /drum: from \d/, 'what gains most');
    const csv = await run<vscode.TextDocument>('openStrokes', at('takes', '2-april'));
    matches(csv.getText(), /^timeS,channel,turn,step,sector,latenessMs/, 'the head');
    ok(csv.isUntitled && csv.lineCount > 100, 'a row for each');
    await vscode.commands.executeCommand('workbench.action.revertAndCloseActiveEditor');
  });

  test('4', 'a page of the guide opens to be read', async () => {
    const page = await run<vscode.Uri>('openGuide', 'machine');
    ok((await vscode.workspace.fs.stat(page)).size > 1000, 'the page is there');
    await until(
      () => vscode.window.tabGroups.activeTabGroup.activeTab?.label.includes('machine.md') ?? false,
      'its preview',
    );
    await vscode.commands.executeCommand('workbench.action.closeActiveEditor');
  });

  test(
    '4',
    'a pattern is drafted from a take, opened, and not written over once it was changed',
    async () => {
      await run('draftFromTake', at('takes', '2-april'), 119);
      const file = at('pattern-draft.csv');
      const drafted = await read('pattern-draft.csv');
      matches(drafted, /^# Drafted from take 2-april/, 'the file');
      // The misplaced pin stands where it was heard.
      const rows = (text: string) => text.split('\n').filter((row) => /^\d/.test(row)).length;
      equal(rows(drafted), rows(await read('pattern.csv')), 'as many pins');
      equal(vscode.window.activeTextEditor?.document.uri.path, file.path, 'what is open');
      await put(`${drafted}# checked\n`, 'pattern-draft.csv');
      await run('draftFromTake', at('takes', '2-april'), 119);
      matches(await read('pattern-draft.csv'), /# checked\n$/, 'what a person wrote');
      await vscode.commands.executeCommand('workbench.action.closeActiveEditor');
      await vscode.workspace.fs.delete(file);
    },
  );

  test(
    '2',
    'a recording is listened to while it is there to grow, and is a take when it grows no more',
    async () => {
      await vscode.workspace.fs.createDirectory(at('recorder'));
      await vscode.workspace.fs.writeFile(at('recorder', 'recording.wav'), recording());
      const heard = await run<{ groups: { channel: string; sector: string | null; meanMs: number }[] }>(
        'listenToRecording',
        root(),
        at('recorder', 'recording.wav'),
        'listened',
      );
      const drum = heard.groups.find(({ channel, sector }) => channel === 'drum' && sector === 'A')!;
      ok(Math.abs(drum.meanMs - 3) < 0.3, `the drum is 3 ms late, got ${drum.meanMs}`);
      ok(await there('takes', 'listened', 'recording.wav'), 'the take');
      await vscode.workspace.fs.delete(at('recorder'), { recursive: true });
      await vscode.workspace.fs.delete(at('takes', 'listened'), { recursive: true });
    },
  );
}
