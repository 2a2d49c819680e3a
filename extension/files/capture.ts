/** What comes in at a pipe, kept in a file that is not there yet. */
import { createWriteStream } from 'node:fs';
import { pipeline } from 'node:stream/promises';
import type { Readable } from 'node:stream';

/**
 * Writes until the stream ends or the signal aborts; what has come by then stays.
 *
 * @throws what the disk says; where the file is there already, EEXIST
 */
export async function capture(stream: Readable, path: string, signal: AbortSignal): Promise<void> {
  try {
    await pipeline(stream, createWriteStream(path, { flags: 'wx' }), { signal });
  } catch (error) {
    if (!signal.aborted) throw error;
  }
}
