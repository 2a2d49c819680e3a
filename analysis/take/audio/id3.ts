/** Sizes in ID3v2 tags (ID3v2.4.0 structure, 3.1 and 6.2): four bytes of seven bits each, so that none looks like a frame of MPEG. */

export function sevenBitSize(bytes: Uint8Array, at: number): number {
  return [0, 1, 2, 3].reduce((size, i) => size * 128 + (bytes[at + i] & 0x7f), 0);
}

/** Byte behind a tag that the file begins with: ten bytes, the last four the size of the rest. */
export function afterId3(bytes: Uint8Array): number {
  return 10 + sevenBitSize(bytes, 6);
}
