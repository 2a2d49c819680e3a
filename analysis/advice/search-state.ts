/** Where a search stands: settings, and what every group comes to with them, kept so that a change is judged quickly. */
import { NORMAL_95 } from '../numbers/normal.ts';
import { changedSinceTake, geometricShiftMs, type Belief } from './belief.ts';
import type { Choice } from './choices.ts';
import { stockAllows } from './stock.ts';
import { GroupState, type GroupMove } from './group-state.ts';

/** What makes settings bad; everything is added up, and nothing is below 0. */
export interface Objective {
  /** From a group's mean lateness and its interval's half-width, ms. */
  readonly group: (g: number, meanMs: number, ci95Ms: number) => number;
  /** For each changed adjuster. */
  readonly cost: (adjuster: number, setting: number) => number;
}

/** Adjusters and the settings they are to have. */
export type SettingChange = readonly (readonly [adjuster: number, setting: number])[];

/** An improvement smaller than this share of the score is none. */
const LEAST_GAIN = 1e-6;

/** What a change moves in one channel, and the adjusters of that channel alone that may follow. */
interface Part {
  readonly own: readonly number[];
  readonly groups: readonly number[];
}

interface Parts {
  readonly parts: readonly Part[];
  /** Of all of them as things stand, and after how many changes that was. */
  readonly score: number;
  readonly changes: number;
}

export class SearchState {
  readonly settings: number[];
  /** Adjusters that move more than one channel, those that move most groups first. */
  readonly shared: readonly number[];
  /** By channel: adjusters that move it alone. */
  private readonly own: readonly (readonly number[])[];
  private readonly groups: readonly GroupState[];
  private readonly groupsOfChannel: readonly (readonly number[])[];
  /** Groups that each adjuster moves. */
  private readonly movedBy: readonly (readonly number[])[];
  private readonly groupScore: Float64Array;
  /** By the adjusters of a change. */
  private readonly parts = new Map<string, Parts>();
  /** How many changes were made. */
  private changes = 0;
  private readonly limits: readonly {
    readonly members: readonly number[];
    readonly least: number;
    readonly most: number;
  }[];
  private readonly hasStock: boolean;
  private readonly shift: Float64Array;
  private readonly apart: Uint8Array;

  constructor(
    private readonly belief: Belief,
    private readonly choices: readonly Choice[],
    start: readonly number[],
    movable: readonly number[],
    private readonly score: Objective,
  ) {
    const { adjusters, limits, channels } = belief.machine.description;
    this.settings = [...start];
    this.hasStock = belief.machine.description.stock !== undefined;
    this.shift = Float64Array.from(start, (setting, a) => geometricShiftMs(belief, a, setting));
    this.apart = Uint8Array.from(start, (setting, a) => this.isApart(a, setting));
    this.movedBy = adjusters.map((_, a) => belief.share.flatMap((share, g) => (share[a] === 0 ? [] : [g])));
    this.groupsOfChannel = channels.map((_, c) =>
      belief.groups.flatMap(({ channel }, g) => (channel === c ? [g] : [])),
    );
    const channelsOf = this.movedBy.map((moved) => new Set(moved.map((g) => belief.groups[g].channel)));
    this.shared = movable
      .filter((a) => channelsOf[a].size > 1)
      .sort((a, b) => this.movedBy[b].length - this.movedBy[a].length || a - b);
    this.own = channels.map((_, c) =>
      movable.filter((a) => channelsOf[a].size === 1 && channelsOf[a].has(c)),
    );
    this.groups = belief.groups.map((_, g) => new GroupState(belief, g));
    for (const group of this.groups) group.settle(this.shift, this.apart);
    this.groupScore = Float64Array.from(this.groups, (_, g) => this.scoreOf(g, []));
    this.limits = limits.map(({ adjusters: ids, sumMin = -Infinity, sumMax = Infinity }) => {
      const members = adjusters.flatMap(({ id }, a) => (ids.includes(id) ? [a] : []));
      return { members, least: sumMin, most: sumMax };
    });
  }

  /** Makes the change where it is allowed and better; says whether it did. */
  take(change: SettingChange): boolean {
    const moves = this.movesFor(change);
    if (moves === null) return false;
    const touched = this.movedBy[change[0][0]];
    let was = this.costOf(change, this.settings);
    for (const g of touched) was += this.groupScore[g];
    const enough = was - LEAST_GAIN * was;
    let is = this.costOf(change);
    for (const g of touched) {
      if (!(is < enough)) return false;
      is += this.scoreOf(g, moves);
    }
    if (!(is < enough)) return false;
    this.make(change, touched);
    return true;
  }

  /** The same, and in every channel that the change moves one of its own adjusters may follow. */
  takeFollowed(change: SettingChange): boolean {
    const moves = this.movesFor(change);
    if (moves === null) return false;
    const { parts, score: partsScore } = this.partsOf(change);
    const was = this.costOf(change, this.settings) + partsScore;
    const enough = was - LEAST_GAIN * was;
    let is = this.costOf(change);
    const whole = [...change];
    for (const part of parts) {
      if (!(is < enough)) return false;
      const { score, follower } = this.bestFollower(moves, part);
      is += score;
      if (follower !== null) whole.push(follower);
    }
    if (!(is < enough) || !this.keepsLimits(whole)) return false;
    for (const { groups } of parts) this.make(whole, groups);
    return true;
  }

  /** Whether there are adjusters that could follow this one. */
  hasFollowers(a: number): boolean {
    return this.partsOf([[a, 0]]).parts.some(({ own }) => own.length > 0);
  }

  /** The channels that a change moves, the worst first: most changes are seen to be bad there. */
  private partsOf(change: SettingChange): Parts {
    const key = change.map(([a]) => a).join(' ');
    const known = this.parts.get(key);
    if (known?.changes === this.changes) return known;
    const parts = known?.parts ?? this.partsFor(change);
    const scores = new Map(parts.map((part) => [part, this.scoreNow(part)]));
    const fresh = {
      changes: this.changes,
      parts: parts.toSorted((a, b) => scores.get(b)! - scores.get(a)!),
      score: parts.reduce((sum, part) => sum + scores.get(part)!, 0),
    };
    this.parts.set(key, fresh);
    return fresh;
  }

  private partsFor(change: SettingChange): Part[] {
    const touched = new Set(change.flatMap(([a]) => this.movedBy[a]));
    return this.own.flatMap((all, c) => {
      const here = this.groupsOfChannel[c].filter((g) => touched.has(g));
      const own = all.filter((b) => change.every(([a]) => a !== b));
      if (here.length === 0) return [];
      return [{ own, groups: own.length === 0 ? here : this.groupsOfChannel[c] }];
    });
  }

  private scoreNow({ own, groups }: Part): number {
    let sum = 0;
    for (const g of groups) sum += this.groupScore[g];
    for (const b of own)
      if (this.settings[b] !== this.choices[b].installed) sum += this.score.cost(b, this.settings[b]);
    return sum;
  }

  /** Of a channel's own adjusters the one that follows best, and what the channel then scores. */
  private bestFollower(moves: readonly GroupMove[], { own, groups }: Part) {
    let costs = 0;
    for (const b of own)
      if (this.settings[b] !== this.choices[b].installed) costs += this.score.cost(b, this.settings[b]);
    let score = costs;
    for (const g of groups) score += this.scoreOf(g, moves);
    let follower: readonly [number, number] | null = null;
    for (const b of own)
      for (const setting of this.following(b, moves)) {
        const step: SettingChange = [[b, setting]];
        const all = [...moves, this.moveOf(b, setting)];
        let is = costs - this.costOf(step, this.settings) + this.costOf(step);
        for (const g of groups) {
          if (is >= score) break;
          is += this.scoreOf(g, all);
        }
        if (is < score) [score, follower] = [is, step[0]];
      }
    return { score, follower };
  }

  /** Settings of an adjuster that bring the middle of what it moves next to zero, and the one it is installed at. */
  private following(b: number, moves: readonly GroupMove[]): number[] {
    let least = Infinity;
    let most = -Infinity;
    for (const g of this.movedBy[b]) {
      const ms = this.groups[g].meanAfter(moves) / this.groups[g].meanPerMs(b);
      if (ms < least) least = ms;
      if (ms > most) most = ms;
    }
    const now = this.settings[b];
    const choice = this.choices[b];
    const below = Math.floor(now - (least + most) / 2 / this.unitMs(b));
    const settings: number[] = [];
    for (const setting of [below, below + 1, choice.installed])
      if (setting !== now && !settings.includes(setting) && allows(choice, setting)) settings.push(setting);
    return settings;
  }

  /** Own shift of one unit more, ms. */
  private unitMs(b: number): number {
    return geometricShiftMs(this.belief, b, this.settings[b] + 1) - this.shift[b];
  }

  /** null where nothing is changed, or a choice or limit does not allow it. */
  private movesFor(change: SettingChange): GroupMove[] | null {
    if (change.every(([a, setting]) => this.settings[a] === setting)) return null;
    if (!change.every(([a, setting]) => allows(this.choices[a], setting))) return null;
    return this.keepsLimits(change) ? change.map(([a, setting]) => this.moveOf(a, setting)) : null;
  }

  private moveOf(adjuster: number, setting: number): GroupMove {
    return {
      adjuster,
      byMs: geometricShiftMs(this.belief, adjuster, setting) - this.shift[adjuster],
      apart: this.isApart(adjuster, setting) - this.apart[adjuster],
    };
  }

  /** Of the adjusters of a change, with their new settings or with `settings`. */
  private costOf(change: SettingChange, settings?: readonly number[]): number {
    let sum = 0;
    for (const [a, to] of change) {
      const setting = settings?.[a] ?? to;
      if (setting !== this.choices[a].installed) sum += this.score.cost(a, setting);
    }
    return sum;
  }

  private make(change: SettingChange, touched: readonly number[]): void {
    this.changes++;
    for (const [a, setting] of change) {
      this.settings[a] = setting;
      this.shift[a] = geometricShiftMs(this.belief, a, setting);
      this.apart[a] = this.isApart(a, setting);
    }
    for (const g of touched) {
      this.groups[g].settle(this.shift, this.apart);
      this.groupScore[g] = this.scoreOf(g, []);
    }
  }

  private isApart(a: number, setting: number): number {
    return setting !== this.belief.takeSettings[a] || changedSinceTake(this.belief, a) ? 1 : 0;
  }

  /** A limit that the machine breaks as it stands may stay broken only while its adjusters stay. */
  private keepsLimits(change: SettingChange): boolean {
    return this.keepsSums(change) && this.keepsStock(change);
  }

  private keepsStock(change: SettingChange): boolean {
    if (!this.hasStock) return true;
    const settings = [...this.settings];
    for (const [a, setting] of change) settings[a] = setting;
    return stockAllows(this.belief.machine, settings);
  }

  private keepsSums(change: SettingChange): boolean {
    return this.limits.every(({ members, least, most }) => {
      if (!change.some(([a]) => members.includes(a))) return true;
      const setting = (a: number) => change.find(([b]) => b === a)?.[1] ?? this.settings[a];
      const sum = members.reduce((total, a) => total + setting(a), 0);
      return (sum >= least && sum <= most) || members.every((a) => setting(a) === this.choices[a].installed);
    });
  }

  private scoreOf(g: number, moves: readonly GroupMove[]): number {
    const group = this.groups[g];
    const ci95Ms = NORMAL_95 * Math.sqrt(Math.max(0, group.varianceAfter(moves)));
    return this.score.group(g, group.meanAfter(moves), ci95Ms);
  }
}

function allows({ installed, spans }: Choice, setting: number): boolean {
  return setting === installed || spans.some(({ lo, hi }) => setting >= lo && setting <= hi);
}
