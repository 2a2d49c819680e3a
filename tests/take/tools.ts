/** Outside writers that the readers are held against. Where one is not installed, its tests are skipped and say so. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'vitest';

/** The Debian package of each tool. */
const packages = {
  flac: 'flac',
  metaflac: 'flac',
  csvmidi: 'midicsv',
  'sndfile-convert': 'sndfile-programs',
  sox: 'sox with libsox-fmt-mp3',
  oggenc: 'vorbis-tools',
  ffmpeg: 'ffmpeg',
};

export type Tool = keyof typeof packages;

/** A test that needs tools of Debian's. */
export function testWith(tools: readonly Tool[], name: string, body: () => Promise<void> | void): void {
  const missing = tools.filter((tool) => spawnSync('which', [tool]).status !== 0);
  if (missing.length === 0) test(name, body);
  else test.skip(`${name} (not installed: ${missing.map((tool) => packages[tool]).join(', ')})`, body);
}

/**
 * Runs a command in a folder of its own.
 *
 * @param inputs file name → bytes or text put there first
 * @returns the bytes of `output` afterwards
 * @throws Error with what the command said, where it fails
 */
export function run(
  command: readonly [Tool, ...string[]],
  inputs: Readonly<Record<string, Uint8Array | string>>,
  output: string,
): Uint8Array {
  const folder = mkdtempSync(join(tmpdir(), 'shimwright-take-'));
  try {
    for (const [name, content] of Object.entries(inputs)) writeFileSync(join(folder, name), content);
    const [tool, ...args] = command;
    const { status, stderr } = spawnSync(tool, args, { cwd: folder, encoding: 'utf8' });
    if (status !== 0) throw new Error(`${command.join(' ')}: ${stderr}`);
    return new Uint8Array(readFileSync(join(folder, output)));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
