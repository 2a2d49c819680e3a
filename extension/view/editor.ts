/** The editor on the other side: messages to it, questions with answers, and what the page keeps over a reload. */
import { z } from 'zod';
import type {
  ChannelInTakes,
  ClipMessage,
  ClipWant,
  PinInTake,
  ToHost,
  ToPage,
} from '../protocol/messages.ts';

import { saidSchema } from './work-said.ts';

interface EditorApi {
  postMessage(message: ToHost): void;
  getState(): unknown;
  setState(state: unknown): void;
}
declare function acquireVsCodeApi(): EditorApi;

/** What a person has chosen, kept while the page is hidden and over a reload of the window. */
const keptSchema = z.object({
  take: z.string().default(''),
  channel: z.string().nullable().default(null),
  /** The chosen stroke by its time: its place in the list changes with every analysis. */
  timeS: z.number().nullable().default(null),
  along: z.enum(['barrel', 'time']).default('barrel'),
  traces: z.enum(['sectors', 'takes']).default('sectors'),
  middleMs: z.number().default(10),
  spanMs: z.number().default(60),
  listed: z.enum(['all', 'used', 'set-aside']).default('all'),
  listedChannel: z.string().nullable().default(null),
  sortedBy: z.enum(['time', 'late', 'early']).default('time'),
  /** Whether the channels' course over the takes was asked for. */
  courses: z.boolean().default(false),
  scroll: z.number().default(0),
  /** How the chosen stroke is listened to. */
  ear: z
    .object({
      what: z.enum(['pin', 'channel']),
      alone: z.boolean(),
      half: z.boolean(),
      sides: z.boolean(),
    })
    .default({ what: 'pin', alone: false, half: false, sides: false }),
  /** What was said of proposed changes and is not noted yet. */
  said: z.array(saidSchema).default([]),
  /** Where the way through the work stands; null: the report is shown. */
  atMachine: z
    .object({ screen: z.enum(['start', 'change', 'end']), adjuster: z.string() })
    .nullable()
    .default(null),
});
export type Kept = z.output<typeof keptSchema>;

type Answer = Extract<ToPage, { request: number }>;

export class Editor {
  private readonly api = acquireVsCodeApi();
  private kept: Kept = keptSchema.safeParse(this.api.getState() ?? {}).data ?? keptSchema.parse({});
  private readonly waiting = new Map<number, (answer: Answer) => void>();
  private lastRequest = 0;
  /** The report now shown. */
  run = 0;

  get state(): Kept {
    return this.kept;
  }

  keep(change: Partial<Kept>): void {
    this.kept = { ...this.kept, ...change };
    this.api.setState(this.kept);
  }

  send(message: ToHost): void {
    this.api.postMessage(message);
  }

  /** Answers of an older report never come; what waits for them is dropped with it. */
  begin(run: number): void {
    this.run = run;
    this.waiting.clear();
  }

  answer(message: Answer): void {
    if (message.run !== this.run) return;
    this.waiting.get(message.request)?.(message);
    this.waiting.delete(message.request);
  }

  clips(
    take: string | null,
    wants: ClipWant[],
  ): Promise<{ clips: (ClipMessage | null)[]; why: string | null }> {
    return new Promise((settle) => {
      const request = ++this.lastRequest;
      this.waiting.set(request, (answer) => answer.kind === 'clips' && settle(answer));
      this.send({ kind: 'clips', run: this.run, request, take, wants });
    });
  }

  history(): Promise<ChannelInTakes[]> {
    return new Promise((settle) => {
      const request = ++this.lastRequest;
      this.waiting.set(request, (answer) => answer.kind === 'history' && settle(answer.channels));
      this.send({ kind: 'history', run: this.run, request });
    });
  }

  pin(channel: string, step: number): Promise<PinInTake[]> {
    return new Promise((settle) => {
      const request = ++this.lastRequest;
      this.waiting.set(request, (answer) => answer.kind === 'pin' && settle(answer.takes));
      this.send({ kind: 'pin', run: this.run, request, channel, step });
    });
  }
}
