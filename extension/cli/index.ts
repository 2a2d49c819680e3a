/** Every command, in the order in which --help lists them. Each loads what it needs when it runs. */
import { advise } from './advise.ts';
import { analyze } from './analyze.ts';
import type { Command } from './command.ts';
import { compare } from './compare.ts';
import { demo } from './demo.ts';
import { draft } from './draft.ts';
import { drive } from './drive.ts';
import { hear } from './hear.ts';
import { history } from './history.ts';
import { inbox } from './inbox.ts';
import { listenCommand } from './listen.ts';
import { create } from './new.ts';
import { next } from './next.ts';
import { sheet } from './sheet.ts';
import { solos } from './solos.ts';
import { strokes } from './strokes.ts';
import { take } from './take.ts';
import { voices } from './voices.ts';

export const commands: readonly Command[] = [
  analyze,
  advise,
  compare,
  next,
  sheet,
  drive,
  hear,
  history,
  strokes,
  voices,
  solos,
  create,
  take,
  inbox,
  listenCommand,
  draft,
  demo,
];
