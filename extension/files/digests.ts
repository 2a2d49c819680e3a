/**
 * Digests of files on the disk. Large ones are streamed once: beside the digest is kept of which size and times the file
 * was, in `.shimwright/digests.json` of the machine's folder, which tells git to pass it over. Losing it costs a reading.
 */
import { asText } from '../common/utf8.ts';
import { createHash } from 'node:crypto';
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { digestOf, type InputFile, type Sha256 } from '../common/inputs.ts';
import { readInside, type Stamp } from './read.ts';
import { writeWhole } from './write.ts';

const folderName = '.shimwright';
const fileName = `${folderName}/digests.json`;

/** Smaller files are read in less time than it takes to look them up. */
const leastKeptBytes = 1024 * 1024;

/** A file changed so shortly ago may change again within the same tick of its disk's clock (2 s on memory cards). */
const settledMs = 2500;

/** Takes of some years; the file stays below a few megabytes. */
const mostKept = 20_000;

export const nodeSha256: Sha256 = async (pieces) => {
  const hash = createHash('sha256');
  for await (const piece of pieces) hash.update(piece);
  return hash.digest('hex');
};

type Kept = Record<string, readonly [stamp: string, sha256: string]>;

export interface DigestCache {
  /** @param path within the machine's folder */
  digest(file: InputFile, path: string, stamp: Stamp): Promise<string>;
  /** Writes what is new; a folder that cannot be written is left as it is. */
  save(): Promise<void>;
}

/** @param root real path of the machine's folder */
export async function openDigests(root: string): Promise<DigestCache> {
  const kept = await readKept(root);
  let isNew = false;
  return {
    async digest(input, path, stamp) {
      if (stamp.sizeBytes < leastKeptBytes) return digestOf(input, nodeSha256);
      const { sizeBytes, mtimeMs, ctimeMs } = stamp;
      const text = `${sizeBytes} ${mtimeMs} ${ctimeMs}`;
      const key = path.replaceAll('\\', '/');
      const known = kept.get(key);
      if (known?.[0] === text) return known[1];
      const startedMs = Date.now();
      const sha256 = await digestOf(input, nodeSha256);
      if (startedMs - Math.max(mtimeMs, ctimeMs) > settledMs) {
        kept.delete(key); // to the end: the oldest are dropped first
        kept.set(key, [text, sha256]);
        isNew = true;
      }
      return sha256;
    },
    async save() {
      if (!isNew) return;
      isNew = false;
      await writeKept(root, Object.fromEntries([...kept].slice(-mostKept)));
    },
  };
}

async function readKept(root: string): Promise<Map<string, readonly [string, string]>> {
  try {
    const bytes = await readInside(root, join(root, fileName), fileName);
    if (bytes === null) return new Map();
    const value = JSON.parse(asText(bytes, fileName)) as Kept;
    return new Map(
      Object.entries(value).filter(
        ([, row]) => Array.isArray(row) && row.length === 2 && /^[0-9a-f]{64}$/.test(row[1]),
      ),
    );
  } catch {
    return new Map();
  }
}

async function writeKept(root: string, kept: Kept): Promise<void> {
  const encoder = new TextEncoder();
  try {
    await mkdir(join(root, folderName), { recursive: true });
    await writeWhole(root, [
      { path: join(root, folderName, '.gitignore'), bytes: encoder.encode('*\n') },
      { path: join(root, fileName), bytes: encoder.encode(JSON.stringify(kept, null, 1)) },
    ]);
  } catch {
    // Read again next time.
  }
}
