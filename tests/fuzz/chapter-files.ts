/** The least of each container that holds chapters, without sound: their readers look at no more. */

const ascii = (word: string) => [...word].map((letter) => letter.charCodeAt(0));
/** `bytes` of a number, the greatest first. */
const big = (value: number, bytes: number) =>
  Array.from({ length: bytes }, (_, i) => Math.floor(value / 256 ** (bytes - 1 - i)) % 256);
const little = (value: number) => big(value, 4).reverse();

const texts = ['CHAPTER001=00:00:00.010', 'CHAPTER001NAME=bell', 'CHAPTER002=00:00:00.030'];
const comments = [
  ...little(1),
  ...ascii('x'),
  ...little(texts.length),
  ...texts.flatMap((text) => [...little(text.length), ...ascii(text)]),
];

/** FLAC with STREAMINFO and a block of comments. */
export const flacChapters = Uint8Array.from([
  ...ascii('fLaC'),
  ...[0, ...big(34, 3), ...big(0, 34)],
  ...[0x84, ...big(comments.length, 3), ...comments],
]);

const page = (packet: readonly number[]) => [
  ...ascii('OggS'),
  ...big(0, 22),
  1 + Math.floor(packet.length / 255),
  ...Array.from({ length: Math.floor(packet.length / 255) }, () => 255),
  packet.length % 255,
  ...packet,
];

/** Ogg with the first two packets of Opus. */
export const oggChapters = Uint8Array.from([
  ...page(ascii('OpusHead')),
  ...page([...ascii('OpusTags'), ...comments]),
]);

const box = (name: string, body: readonly number[]) => [...big(body.length + 8, 4), ...ascii(name), ...body];
const chapter = (unit: number, title: string) => [...big(unit, 8), title.length, ...ascii(title)];

/** MP4 with nothing in its index but chapters. */
export const mp4Chapters = Uint8Array.from([
  ...box('ftyp', ascii('M4A ')),
  ...box(
    'moov',
    box('udta', box('chpl', [1, ...big(0, 7), 2, ...chapter(100_000, 'bell'), ...chapter(300_000, 'drum')])),
  ),
]);

const frame = (name: string, body: readonly number[]) => [
  ...ascii(name),
  ...big(body.length, 4),
  ...[0, 0],
  ...body,
];
const chapterFrame = (startMs: number, title: string) =>
  frame('CHAP', [
    ...[...ascii('c'), 0, ...big(startMs, 4), ...big(startMs + 10, 4), ...big(0, 8)],
    ...frame('TIT2', [0, ...ascii(title)]),
  ]);
const tag = [...chapterFrame(10, 'bell'), ...chapterFrame(30, 'drum')];

/** An ID3v2.3 tag with two chapters. */
export const id3Chapters = Uint8Array.from([
  ...ascii('ID3'),
  ...[3, 0, 0, 0, 0, Math.floor(tag.length / 128), tag.length % 128],
  ...tag,
]);
