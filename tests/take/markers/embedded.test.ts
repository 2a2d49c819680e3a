/** Chapters within audio files: the least container of each kind, and one cut off within its chapters. */
import { expect, test } from 'vitest';
import { commentChapters } from '../../../analysis/take/markers/comment-chapters.ts';
import { id3Chapters as id3Reader } from '../../../analysis/take/markers/id3-chapters.ts';
import { mp4Chapters as mp4Reader } from '../../../analysis/take/markers/mp4-chapters.ts';
import { flacChapters, id3Chapters, mp4Chapters, oggChapters } from '../../fuzz/chapter-files.ts';
import { memoryFile } from '../files.ts';

const files = [
  ['FLAC', commentChapters, flacChapters, ['bell', '']],
  ['Ogg', commentChapters, oggChapters, ['bell', '']],
  ['MP4', mp4Reader, mp4Chapters, ['bell', 'drum']],
  ['ID3', id3Reader, id3Chapters, ['bell', 'drum']],
] as const;

test.each(files)('%s', async (_, reader, bytes, labels) => {
  expect(reader.recognises('a', bytes.subarray(0, 64))).toBe(true);
  const found = await reader.read(memoryFile('a', bytes), null);
  expect(found?.markers.map(({ timeS, label }) => [timeS, label])).toEqual([
    [0.01, labels[0]],
    [0.03, labels[1]],
  ]);
  expect(found?.notices).toEqual([]);
});

test.each(files)('%s without its last 20 bytes keeps what is whole', async (_, reader, bytes, labels) => {
  const found = await reader.read(memoryFile('a', bytes.slice(0, -20)), null);
  for (const { timeS, label } of found?.markers ?? []) expect([timeS, label]).toEqual([0.01, labels[0]]);
});
