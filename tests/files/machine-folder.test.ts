import { mkdirSync, mkdtempSync, realpathSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { listTakes, locate, readMachineFolder } from '../../extension/files/machine-folder.ts';

let root: string;
beforeEach(() => {
  root = realpathSync(mkdtempSync(join(tmpdir(), 'shimwright-machine-')));
});
afterEach(() => rmSync(root, { recursive: true, force: true }));

function put(name: string, text: string): void {
  mkdirSync(dirname(join(root, name)), { recursive: true });
  writeFileSync(join(root, name), text);
}

const machine = JSON.stringify({
  name: 'Weir Lane test barrel',
  barrel: { steps: 8, stepsPerBeat: 4, diameterMm: 100, sectors: [{ id: 'A', from: 0 }] },
  reference: 'block',
  channels: [{ id: 'block' }],
});

test('the nearest machine above is found from a folder, its file, a take, or a file in a take', async () => {
  put('machine.jsonc', machine);
  put('takes/may/a.wav', '');
  for (const path of [root, join(root, 'machine.jsonc'), join(root, 'takes')])
    expect(await locate(path)).toMatchObject({ root, take: null });
  for (const path of [join(root, 'takes/may'), join(root, 'takes/may/a.wav'), `${join(root, 'takes/may')}/`])
    expect(await locate(path)).toMatchObject({
      root,
      take: { name: 'may', folder: join(root, 'takes/may') },
    });
});

test('a machine inside another machine’s folder is the nearer one', async () => {
  put('machine.jsonc', machine);
  put('small/machine.jsonc', machine);
  put('small/takes/one/a.wav', '');
  expect((await locate(join(root, 'small/takes/one'))).root).toBe(join(root, 'small'));
});

test('a missing machine.jsonc is said; one with another name is named', async () => {
  put('takes/may/a.wav', '');
  await expect(locate(join(root, 'takes/may'))).rejects.toThrow(
    /no machine\.jsonc is in this folder or above it/,
  );
  put('machine.json', machine);
  await expect(locate(join(root, 'takes/may'))).rejects.toThrow(/rename it machine\.jsonc/);
  await expect(locate(join(root, 'nowhere'))).rejects.toThrow(/nowhere: is not there; check the path/);
});

test('takes are in order: by when they were recorded, then by name; an unknown time comes first', async () => {
  put('machine.jsonc', machine);
  const take = (name: string, recorded?: string) =>
    put(`takes/${name}/take.jsonc`, `// said by hand\n${JSON.stringify({ recorded })}`);
  take('b', '2026-05-02T21:40');
  take('a', '2026-05-02T22:40+02:00'); // an hour earlier than b, where no zone means UTC
  take('c', '2026-05-01');
  take('round-10');
  take('round-9');
  take('d', '2026-05-02T21:40');
  put('takes/notes.txt', 'no take');
  put('takes/.hidden/a.wav', '');
  const names = (await listTakes(root, '.')).map(({ name }) => name);
  expect(names).toEqual(['round-9', 'round-10', 'c', 'a', 'b', 'd']);
});

test('a take that is a link out of the machine’s folder is refused', async () => {
  put('machine/machine.jsonc', machine);
  put('elsewhere/a.wav', '');
  mkdirSync(join(root, 'machine/takes'));
  symlinkSync('../../elsewhere', join(root, 'machine/takes/may'));
  await expect(listTakes(join(root, 'machine'), '.')).rejects.toThrow(/takes\/may: is a link that leads out/);
});

test('the pattern is read from beside machine.jsonc and from nowhere else', async () => {
  put('machine.jsonc', machine);
  put('pattern.csv', 'step,channel\r\n0,block\r\n');
  expect((await readMachineFolder(root, '.')).machine.pins).toHaveLength(1);
  put('machine/machine.jsonc', machine);
  symlinkSync('../pattern.csv', join(root, 'machine/pattern.csv'));
  await expect(readMachineFolder(join(root, 'machine'), 'machine')).rejects.toThrow(
    'machine/pattern.csv: is a link that leads out of the machine’s folder',
  );
  rmSync(join(root, 'machine/pattern.csv'));
  await expect(readMachineFolder(join(root, 'machine'), 'machine')).rejects.toThrow(
    /"pattern.csv" is not there/,
  );
});

test('a machine’s folder that is itself opened through a link is that folder', async () => {
  put('workshop/machine.jsonc', machine);
  put('workshop/takes/may/a.wav', '');
  symlinkSync('workshop', join(root, 'desk'));
  for (const path of ['desk/takes/may', 'desk/takes/may/a.wav'])
    expect(await locate(join(root, path))).toMatchObject({
      root: join(root, 'workshop'),
      take: { folder: join(root, 'workshop/takes/may') },
    });
  expect(await locate(join(root, 'desk'))).toMatchObject({ root: join(root, 'workshop'), take: null });
});

test('a take that is a link out, or to nothing, is told as what it is', async () => {
  put('workshop/machine.jsonc', machine);
  put('other/machine.jsonc', machine);
  put('other/takes/may/a.wav', '');
  put('loose/a.wav', '');
  mkdirSync(join(root, 'workshop/takes'));
  for (const [name, to] of [
    ['other', '../../other/takes/may'],
    ['loose', '../../loose'],
    ['gone', 'nowhere'],
  ])
    symlinkSync(to, join(root, 'workshop/takes', name));
  for (const name of ['other', 'loose'])
    await expect(locate(join(root, 'workshop/takes', name))).rejects.toThrow(
      /is a link that leads out of the machine’s folder; copy the recording into takes\//,
    );
  for (const name of ['gone', 'gone/'])
    await expect(locate(join(root, 'workshop/takes', name))).rejects.toThrow(
      /is a link to something that is not there; remove the link/,
    );
});
