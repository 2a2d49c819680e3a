// The demo machine's third round as a reader finds it: what to open, which pieces go where, and what is left in the drawer.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { run } from './run.ts';

test('its report says in what order the work goes, and with which of the pieces in the drawer', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'shimwright-demo-'));
  const root = join(folder, 'machine');
  const takes = ['1-as-built', '2-first-shims', '3-nearly-there'].map((name) => join(root, 'takes', name));
  try {
    expect((await run(['demo', root])).status).toBe(0);
    expect((await run(['analyze', ...takes, '--quiet'])).status).toBe(0);
    const report = readFileSync(join(takes[2], 'report.md'), 'utf8').replace(/\\(?=[().])/g, '');
    const [, advice] = /## What to change\n([^]*?)\n## /.exec(report)!;
    // Both stand behind the gallery, so the ring guard stays on: 5 min and twice 4.
    expect(advice).toContain('The work takes 13 min');
    expect(advice).toMatch(/1\. open gallery \(5 min\): lever-gong-high 5 → 3 .*lever-bell 5 → 7/s);
    expect(advice).toContain('put in 1 × 0.2 mm, take out 4 × 0.1 mm');
    expect(advice).toMatch(/The drawer then holds 9 × 0\.1 mm/);
    expect(advice).not.toContain('ring guard');
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
