// A pattern kept as a grid in a spreadsheet is read as it is, and what is no grid of this barrel is refused in one line.
import { describe, expect, it, test } from 'vitest';
import { readPattern } from '../../analysis/machine/pattern.ts';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { InputProblem } from '../../analysis/input/problem.ts';

const description = machineSchema.parse({
  name: 'Osier Row',
  reference: 'tick',
  barrel: { steps: 8, stepsPerBeat: 2, diameterMm: 100, sectors: [{ id: 'A', from: 0 }] },
  channels: [{ id: 'tick', onBarrel: false }, { id: 'bell', name: 'Hand bell' }, { id: 'drum' }],
});
const read = (text: string) =>
  readPattern(
    'pattern.csv',
    new TextEncoder().encode(text),
    description,
    (path, what, mend) => new InputProblem('machine.jsonc', path.join('.'), what, mend),
  ).map(({ step, channel, line }) => `${step} ${description.channels[channel].id} ${line}`);
const pins = ['0 tick null', '1 drum null', '3 bell null', '4 tick null', '7 bell null'];

describe('a grid', () => {
  test.each([
    ['without a heading', 'tick,x,,,,x,,,\nHand bell,,,,x,,,,x\ndrum,,x,,,,,,\n'],
    ['counted from 0', ',0,1,2,3,4,5,6,7\ntick,x,,,,x,,,\nbell,,,,X,,,,X\ndrum,,1,0,0,0,0,0,0\n'],
    [
      'counted from 1',
      'channel,1,2,3,4,5,6,7,8\ntick,●,.,.,.,●,.,.,.\nbell,.,.,.,●,.,.,.,●\ndrum,.,●,.,.,.,.,.,.\n',
    ],
    [
      'with beats above',
      'beat,1,,2,,3,,4,\ntick;x;;;;x;;;\n'.replaceAll(';', ',') + 'bell,,,,x,,,,x\ndrum,-,x,-,-,-,-,-,-\n',
    ],
    ['of a sheet in another country', 'tick;x;;;;x;;;\nbell;;;;x;;;;x\ndrum;;x;;;;;;\n'],
    ['with only the steps that have pins', 'step,0,1,3,4,7\ntick,x,,,x,\nbell,,,x,,x\ndrum,,x,,,\n'],
    [
      'between blank lines and remarks',
      '# my barrel\n\ntick,x,,,,x,,,\n\nbell,,,,x,,,,x\n# felt\ndrum,,x,,,,,,\n',
    ],
  ])('%s gives its pins', (_, text) => expect(read(text)).toEqual(pins));

  it('has steps between the holes where its heading has', () => {
    expect(read('x,0,0.5,4 1/3,6\ntick,x,,,\nbell,,x,x,\n')).toEqual([
      '0 tick null',
      '0.5 bell null',
      '4.3333 bell null',
    ]);
  });

  it('is not what a list is', () => {
    expect(read('step,channel,who,when\n0,tick,me,now\n3,bell,me,now\n')).toEqual(['0 tick 2', '3 bell 3']);
    expect(read('channel,step,a,b\ntick,0,1,2\n')).toEqual(['0 tick 2']);
  });

  test.each([
    [
      'too few columns',
      'tick,x,,,,x\nbell,,,,x,\n',
      'pattern.csv: line 1: this looks like a grid, a row a channel and a column a step; it has 5 columns, and the barrel 8 steps; give it a heading with the steps from 0 to 7, or as many columns as the barrel has steps',
    ],
    [
      'counted from 1, and not to the end',
      'c,1,2,3,4\ntick,x,,,\n',
      'line 1: this looks like a grid, a row a channel and a column a step; its steps are counted from 1 to 4, and the barrel has 8;',
    ],
    ['a step that is none', 'c,0,2,9\ntick,x,,\n', 'step 9 is not on the barrel'],
    ['a step twice', 'c,0,2,2\ntick,x,,\n', 'step 2 has two columns'],
    [
      'a mark that is none',
      'tick,x,,,,q,,,\n',
      'line 1: column 6 of the grid holds "q"; write x where there is a pin',
    ],
    [
      'a channel that is none',
      'tick,x,,,,x,,,\nbel,,,,x,,,,x\n',
      'line 2: there is no channel "bel"; write "bell"',
    ],
    ['a channel twice', 'tick,x,,,,x,,,\ntick,,x,,,,,,\n', 'line 2: "tick" has a row already, line 1;'],
    ['no pin at all', 'tick,,,,,,,,\nbell,,,,,,,,\n', 'there is no pin in the grid'],
    ['a pin past the heading', 'c,0,2,4\ntick,x,,,x\n', 'there is a pin in column 5, past the last step'],
    [
      'a grid under the heading of a list',
      'step,channel\ntick,x,,,,x,,,\nbell,,,,x,,,,x\n',
      'pattern.csv: line 1: this looks like a grid, a row a channel and a column a step, under the heading of a list; take the line "step,channel" out',
    ],
  ])('%s is refused in one line', (_, text, words) => {
    let said = '';
    try {
      read(text);
    } catch (error) {
      said = (error as InputProblem).message;
    }
    expect(said).toContain(words);
    expect(said).not.toContain('\n');
  });
});
