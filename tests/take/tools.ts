/** Outside writers that the readers are held against. Where one is not installed, its tests are skipped and say so. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'vitest';

/** The Debian package of each tool; `.ci/run` installs them, and a test holds it to that. */
export const packages = {
  flac: 'flac',
  metaflac: 'flac',
  csvmidi: 'midicsv',
  'sndfile-convert': 'sndfile-programs',
  sox: 'sox',
  oggenc: 'vorbis-tools',
  ffmpeg: 'ffmpeg',
};

export type Tool = keyof typeof packages;
/** A tool, or one that was built with a coder that not every build has. */
export type Need = Tool | 'sox writing MP3' | `ffmpeg with ${string}`;

const works = (command: string, ...args: string[]) =>
  spawnSync(command, args, { stdio: 'ignore' }).status === 0;

const known = new Map<Need, string | null>();
/** The audio coders that ffmpeg lists; none where it is not installed. */
let coders: ReadonlySet<string> | null = null;

/** @returns what is missing, in words, or null */
function missing(need: Need): string | null {
  const before = known.get(need);
  if (before !== undefined) return before;
  const found = look(need);
  known.set(need, found);
  return found;
}

function look(need: Need): string | null {
  if (need === 'sox writing MP3') {
    // Its list of formats also has those that it only reads, so it is asked to write one.
    const writes = () => works('sox', '-n', '-r', '44100', '-t', 'mp3', '/dev/null', 'trim', '0', '0.05');
    return missing('sox') ?? (writes() ? null : 'sox that writes MP3 (libsox-fmt-mp3)');
  }
  if (need.startsWith('ffmpeg with ')) {
    const coder = need.slice('ffmpeg with '.length);
    return missing('ffmpeg') ?? (ffmpegCoders().has(coder) ? null : `ffmpeg with its coder ${coder}`);
  }
  return works('which', need) ? null : packages[need as Tool];
}

function ffmpegCoders(): ReadonlySet<string> {
  if (coders === null) {
    const { stdout } = spawnSync('ffmpeg', ['-hide_banner', '-encoders'], { encoding: 'utf8' });
    // A row is " A....D flac                 FLAC (Free Lossless Audio Codec)".
    coders = new Set(Array.from(stdout.matchAll(/^ A\S* (\S+)/gm), ([, coder]) => coder));
  }
  return coders;
}

/** A test that needs tools of Debian's, or coders in them; skipped with what is missing in its name. */
export function testWith(needs: readonly Need[], name: string, body: () => Promise<void> | void): void {
  const lacking = [...new Set(needs.map(missing).filter((what) => what !== null))];
  if (lacking.length === 0) test(name, body);
  else test.skip(`${name} (not installed: ${lacking.join(', ')})`, body);
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
