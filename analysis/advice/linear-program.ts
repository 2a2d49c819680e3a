/** A mixed-integer program being written down, and its text in the CPLEX LP format that solvers read. */

/** A variable's name and its coefficient. */
export type Term = readonly [name: string, coefficient: number];

export class LinearProgram {
  private readonly objective: Term[] = [];
  private readonly rows: string[] = [];
  private readonly bounds: string[] = [];
  private readonly integers: string[] = [];
  private readonly binaries: string[] = [];

  /** Adds to what is minimised. */
  minimise(terms: readonly Term[]): void {
    this.objective.push(...terms);
  }

  /** A row without variables is left out where it holds, and makes the program infeasible where it does not. */
  constrain(terms: readonly Term[], relation: '<=' | '>=' | '=', right: number): void {
    const sum = total(terms);
    const row = ` c${this.rows.length}:`;
    if (sum.length > 0) this.rows.push(`${row}${written(sum)} ${relation} ${number(right)}`);
    else if (!holds(0, relation, right)) this.rows.push(`${row} - nothing >= 1`);
  }

  /** A continuous variable; absent an end, it is open there. */
  between(name: string, lo = -Infinity, hi = Infinity): void {
    this.bounds.push(` ${number(lo)} <= ${name} <= ${number(hi)}`);
  }

  integer(name: string, lo: number, hi: number): void {
    this.between(name, lo, hi);
    this.integers.push(name);
  }

  binary(name: string): void {
    this.binaries.push(name);
  }

  /** @param relaxed whether what should be whole may be in between: quick to solve, and a bound for the whole program */
  text(relaxed = false): string {
    const bounds = relaxed
      ? [...this.bounds, ...this.binaries.map((name) => ` 0 <= ${name} <= 1`)]
      : this.bounds;
    const rows = this.rows.length > 0 ? this.rows : [' c0: nothing <= 1'];
    const section = (title: string, lines: readonly string[]) => (lines.length > 0 ? [title, ...lines] : []);
    return [
      'Minimize',
      ` goal:${written(total(this.objective)) || ' 0 nothing'}`,
      'Subject To',
      ...rows,
      ...section('Bounds', bounds),
      ...section('Generals', relaxed ? [] : this.integers.map(indented)),
      ...section('Binaries', relaxed ? [] : this.binaries.map(indented)),
      'End',
      '',
    ].join('\n');
  }
}

const indented = (name: string) => ` ${name}`;

/** Below this a coefficient is rounding noise; solvers drop such entries themselves and warn. */
const NEGLIGIBLE = 1e-9;

/** One term a variable. */
function total(terms: readonly Term[]): Term[] {
  const sums = new Map<string, number>();
  for (const [name, coefficient] of terms) sums.set(name, (sums.get(name) ?? 0) + coefficient);
  return [...sums].filter(([, coefficient]) => Math.abs(coefficient) > NEGLIGIBLE);
}

/** Lines stay short: the format's older readers stop at 255 characters. */
function written(terms: readonly Term[]): string {
  const perLine = 6;
  return terms
    .map(([name, coefficient], i) => {
      const sign = coefficient < 0 ? '-' : '+';
      return `${i > 0 && i % perLine === 0 ? '\n ' : ''} ${sign} ${number(Math.abs(coefficient))} ${name}`;
    })
    .join('');
}

function number(value: number): string {
  if (value === Infinity) return '+inf';
  if (value === -Infinity) return '-inf';
  return String(value);
}

function holds(left: number, relation: '<=' | '>=' | '=', right: number): boolean {
  if (relation === '<=') return left <= right;
  return relation === '>=' ? left >= right : left === right;
}
