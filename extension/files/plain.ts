/** Plain files and nothing else: what opens a pipe waits for ever, and a device never ends. */
import { constants } from 'node:fs';
import { open } from 'node:fs/promises';
import type { FileHandle } from 'node:fs/promises';
import { basename } from 'node:path';
import { InputProblem } from '../../analysis/input/problem.ts';
import { asProblem, codeOf } from './fault.ts';

/** Without waiting for whoever might write to a pipe, and not through a link put there since it was looked at. */
const safely = constants.O_RDONLY | (constants.O_NONBLOCK ?? 0) | (constants.O_NOFOLLOW ?? 0);

/**
 * Opens a plain file for reading.
 *
 * @param path  real path
 * @param shown as the person knows it
 * @throws InputProblem where it cannot be opened, or is a link, a folder, a pipe or a device
 */
export async function openPlain(path: string, shown: string): Promise<FileHandle> {
  if (isDevice(path)) throw notPlain(shown);
  let handle: FileHandle;
  try {
    handle = await open(path, safely);
  } catch (error) {
    // A link, or a socket.
    if (['ELOOP', 'EMLINK', 'ENXIO'].includes(codeOf(error))) throw notPlain(shown);
    throw asProblem(error, shown, 'read');
  }
  const found = await handle.stat();
  if (found.isFile()) return handle;
  await handle.close();
  throw found.isDirectory()
    ? new InputProblem(shown, '', 'is a folder, where a file belongs', 'check the path')
    : notPlain(shown);
}

const notPlain = (shown: string) =>
  new InputProblem(shown, '', 'is not a plain file', 'put a plain file in its place');

/**
 * Windows takes these names for devices in every folder and with any ending (Microsoft, "Naming Files, Paths, and
 * Namespaces"): `con.json` is its console.
 */
const deviceName = /^(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³]) *(\.|:|$)/i;

/** @param platform of Node's process */
export function isDevice(path: string, platform: NodeJS.Platform = process.platform): boolean {
  return platform === 'win32' && deviceName.test(basename(path));
}
