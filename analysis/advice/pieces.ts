/** Pieces of one thickness, in a drawer or a stack. */
export interface Pieces {
  readonly mm: number;
  readonly count: number;
}

/** "2 × 0.2 mm and 1 × 0.05 mm", to the thousandth of a mm to which pieces are told apart. */
export function piecesWords(pieces: readonly Pieces[]): string {
  return pieces.map(({ mm, count }) => `${count} × ${+mm.toFixed(3)} mm`).join(' and ');
}
