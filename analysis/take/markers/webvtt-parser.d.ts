/** The part of the package webvtt-parser that we use; it comes without types. */
declare module 'webvtt-parser' {
  export interface VttNode {
    readonly type: 'object' | 'text' | 'timestamp';
    /** Text of a text node. */
    readonly value?: string | number;
    readonly children?: readonly VttNode[];
  }

  export class WebVTTParser {
    /** @param entities "&name;" → character */
    constructor(entities?: Readonly<Record<string, string>>);
    /** Times in seconds; cues ascending by start; `line` counts from 1. */
    parse(
      input: string,
      mode: 'metadata' | 'chapters',
    ): {
      cues: { startTime: number; endTime: number; text: string; tree: VttNode | null }[];
      errors: { message: string; line: number; col?: number }[];
    };
  }
}
