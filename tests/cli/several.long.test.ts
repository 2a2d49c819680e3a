// Several takes at once: the same bytes however many threads.
import { cpSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { run } from './run.ts';
import { makeMachine, markers } from './small-machine.ts';

/** Every file below a folder, by its path, but for the day on which the changelog's entries were made. */
function textsIn(folder: string): Record<string, string> {
  const files = readdirSync(folder, { recursive: true, withFileTypes: true }).filter((entry) =>
    entry.isFile(),
  );
  return Object.fromEntries(
    files.map(({ parentPath, name }) => {
      const path = join(parentPath, name);
      return [path.slice(folder.length), readFileSync(path, 'utf8')];
    }),
  );
}

test('several takes: no file differs by a byte with one, two or three threads', async () => {
  const takes = ['april', 'june', 'may'];
  const first = makeMachine(
    Object.fromEntries(
      takes.map((take, i) => [`takes/${take}/hits.csv`, markers({ drum: 3 + i, sectorB: 1.3 })]),
    ),
  );
  const made = [1, 2, 3].map((workers) => {
    const root = `${first}-${workers}`;
    cpSync(first, root, { recursive: true, preserveTimestamps: true });
    return { workers, root };
  });
  try {
    const results = [];
    for (const { workers, root } of made) {
      const { status, out, err } = await run(
        ['analyze', ...takes.map((take) => `takes/${take}`), '--json', '--workers', String(workers)],
        { cwd: root },
      );
      expect([status, err]).toEqual([0, '']);
      expect((JSON.parse(out) as { take: string }[]).map(({ take }) => take)).toEqual(takes);
      results.push(textsIn(root));
    }
    expect(Object.keys(results[0])).toContain('/takes/june/report.json');
    expect(results[1]).toEqual(results[0]);
    expect(results[2]).toEqual(results[0]);
  } finally {
    for (const root of [first, ...made.map((each) => each.root)])
      rmSync(root, { recursive: true, force: true });
  }
});

test('of several takes one cannot be used: it is told, and the others before it are written', async () => {
  const root = makeMachine({
    'takes/april/hits.csv': markers({ drum: 3 }),
    'takes/june/hits.csv': '',
  });
  try {
    const { status, err } = await run(['analyze', 'takes/april', 'takes/june'], { cwd: root });
    expect(status).toBe(2);
    expect(err).toMatch(/^takes\/june.*\n$/);
    expect(readdirSync(join(root, 'takes/april'))).toContain('report.json');
    expect(readdirSync(join(root, 'takes/june'))).toEqual(['hits.csv']);
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
});

test('every refusal is printed, the good ones are given, and the runtime adds nothing', async () => {
  const bad = Array.from({ length: 11 }, (_, i) => `takes/bad-${i}`);
  const root = makeMachine({
    'takes/good/hits.csv': markers({ drum: 3 }),
    ...Object.fromEntries(bad.map((take) => [`${take}/hits.csv`, ''])),
  });
  try {
    const paths = ['takes/nowhere', ...bad, 'takes/good'];
    const { status, out, err } = await run(['analyze', ...paths, '--json', '--workers', '12'], {
      cwd: root,
    });
    expect(status).toBe(2);
    expect((JSON.parse(out) as { take: string }[]).map(({ take }) => take)).toEqual(['good']);
    expect(
      err
        .trimEnd()
        .split('\n')
        .map((line) => line.split(':')[0]),
    ).toEqual(['takes/nowhere', ...bad.map((take) => expect.stringContaining(take) as string)]);
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
});
