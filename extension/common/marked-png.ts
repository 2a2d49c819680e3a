/** Pictures that we write say so in themselves, so that one of a person's is never written over. */

/** Chunks of a PNG (PNG specification, W3C, 3rd edition, 5.3): length, type, data, CRC; the first, IHDR, ends at byte 33. */
const afterHeader = 33;
const mark = [...'tEXtSoftware\0Shimwright'].map((letter) => letter.charCodeAt(0));

/** @param png without a mark */
export function markedPng(png: Uint8Array): Uint8Array {
  const chunk = new Uint8Array(8 + mark.length);
  const view = new DataView(chunk.buffer);
  view.setUint32(0, mark.length - 4); // of the data alone
  chunk.set(mark, 4);
  view.setUint32(4 + mark.length, crcOf(mark));
  const marked = new Uint8Array(png.length + chunk.length);
  marked.set(png.subarray(0, afterHeader));
  marked.set(chunk, afterHeader);
  marked.set(png.subarray(afterHeader), afterHeader + chunk.length);
  return marked;
}

export function isMarkedPng(bytes: Uint8Array): boolean {
  return mark.every((byte, i) => bytes[afterHeader + 4 + i] === byte);
}

const signature = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a];

export function isPng(bytes: Uint8Array): boolean {
  return bytes.length > afterHeader && signature.every((byte, i) => bytes[i] === byte);
}

/** CRC-32 as PNG has it (annex D of the same), bit by bit: it is run over twenty bytes. */
function crcOf(bytes: readonly number[]): number {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  }
  return ~crc >>> 0;
}
