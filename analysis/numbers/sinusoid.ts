/**
 * Whether unevenly spaced values rise and fall at a frequency: Lomb (1976, Astrophysics and Space Science 39:447) and
 * Scargle (1982, The Astrophysical Journal 263:835). Times, and frequencies in cycles for one unit of time.
 */
import { dot } from './dot.ts';

export interface Sinusoid {
  readonly amplitude: number;
  /** Standard error of the amplitude. */
  readonly standardError: number;
  /** Of values[i] ≈ amplitude·cos(2π·frequency·time − phase). */
  readonly phase: number;
  /** Share of the values' squares that is left. */
  readonly left: number;
  /** Values less the unknowns fitted. */
  readonly degreesOfFreedom: number;
  /** Chance that values without any period fit one given frequency so well. */
  readonly p: number;
}

/** Below this determinant, as a share of its most, a sine at this frequency is what the trends are on these samples. */
const leastOwn = 1e-3;

/**
 * Least squares of a sine and cosine together with trends that are in the values anyway (a constant, a line …); the
 * generalised periodogram (Zechmeister & Kürster 2009, Astronomy & Astrophysics 496:577) where the trend is a constant.
 *
 * @param trends columns, orthonormal (see `orthonormal`)
 * @returns null where the samples cannot tell this frequency from the trends, or are too few
 */
export function fitSinusoid(
  times: ArrayLike<number>,
  values: ArrayLike<number>,
  frequency: number,
  trends: readonly Float64Array[],
): Sinusoid | null {
  const n = times.length;
  const degreesOfFreedom = n - trends.length - 2;
  if (degreesOfFreedom < 3) return null;
  const omega = 2 * Math.PI * frequency;
  const without = (column: Float64Array) => {
    for (const trend of trends) {
      const along = dot(trend, column);
      for (let i = 0; i < n; i++) column[i] -= along * trend[i];
    }
    return column;
  };
  // A search asks for hundreds of frequencies: plain loops are five times as fast here as Float64Array.from.
  const c = new Float64Array(n);
  const s = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    c[i] = Math.cos(omega * times[i]);
    s[i] = Math.sin(omega * times[i]);
  }
  without(c);
  without(s);
  const y = without(new Float64Array(values));
  const [cc, cs, ss] = [dot(c, c), dot(c, s), dot(s, s)];
  const determinant = cc * ss - cs * cs;
  if (!(determinant > leastOwn * (n / 2) ** 2)) return null;
  const [yc, ys, yy] = [dot(y, c), dot(y, s), dot(y, y)];
  const a = (yc * ss - ys * cs) / determinant;
  const b = (ys * cc - yc * cs) / determinant;
  const rest = Math.max(0, yy - a * yc - b * ys);
  const amplitude = Math.hypot(a, b);
  const noise = rest / degreesOfFreedom;
  // Along the direction of (a, b), the covariance noise·[[ss, −cs], [−cs, cc]]/determinant.
  const [ua, ub] = amplitude > 0 ? [a / amplitude, b / amplitude] : [1, 0];
  const own = (ua * ua * ss - 2 * ua * ub * cs + ub * ub * cc) / determinant;
  const left = yy > 0 ? rest / yy : 1;
  // F(2, ν) beyond f: (1 + 2f/ν)^(−ν/2), which is left^(ν/2).
  return {
    amplitude,
    standardError: Math.sqrt(noise * own),
    phase: Math.atan2(b, a),
    left,
    degreesOfFreedom,
    p: left ** (degreesOfFreedom / 2),
  };
}

/** Columns made orthonormal one after another (modified Gram–Schmidt, twice); one that the others hold already is left out. */
export function orthonormal(columns: readonly ArrayLike<number>[]): Float64Array[] {
  const out: Float64Array[] = [];
  for (const column of columns) {
    const own = Float64Array.from(column);
    const before = Math.sqrt(dot(own, own));
    for (let pass = 0; pass < 2; pass++)
      for (const other of out) {
        const along = dot(other, own);
        for (let i = 0; i < own.length; i++) own[i] -= along * other[i];
      }
    const length = Math.sqrt(dot(own, own));
    if (length > 1e-9 * before) out.push(own.map((value) => value / length));
  }
  return out;
}
