import { describe, expect, it } from 'vitest';
import { unreadFindings } from '../../analysis/hits/corrections.ts';
import { readCorrections, unreadCorrections } from '../../extension/common/corrections-file.ts';

const said = (text: string) =>
  unreadFindings(unreadCorrections(text)).map(({ place, message }) => [place, message]);

describe('rows of corrections.csv that cannot be read', () => {
  it('a misspelt action is named with its line and what was probably meant; the other rows are used', () => {
    const text =
      'time,channel,action,note\n1.5,gong,drop,\n2.5,gong,dropp,twice\n3.5,gong,Renmae,\n4,gong,hush,\n';
    expect(said(text)).toEqual([
      ['line 3', 'the correction in line 3 is not used: "dropp" is no action; write "drop"'],
      ['line 4', 'the correction in line 4 is not used: "Renmae" is no action; write "rename"'],
      [
        'line 5',
        'the correction in line 5 is not used: "hush" is no action; use one of "add", "drop", "move", "rename"',
      ],
    ]);
    expect(unreadFindings(unreadCorrections(text))[0]).toMatchObject({
      kind: 'unused-correction',
      severity: 'warning',
      file: 'corrections.csv',
    });
    expect(readCorrections(text)).toEqual([{ timeS: 1.5, channel: 'gong', action: 'drop', note: '' }]);
  });

  it('an action without a time is named too', () => {
    expect(said('time,channel,action\n1:5x,gong,drop\n')).toEqual([
      [
        'line 2',
        'the correction in line 2 is not used: "1:5x" is no time; write seconds from the start of the recording',
      ],
    ]);
  });

  it.each([
    ['a header alone', 'time,channel,action,note\n'],
    ['a row without an action', 'time,channel,action,note\n1.5,gong,,rang on\n2.5,gong\n'],
    [
      'a remark',
      '# dropp it?\ntime,channel,action,note\n# 1.5,gong,dropp,\nthe gong rang on, so I left it\n\n',
    ],
    ['columns in another order', 'action;note;time;channel\ndrop;;1,5;gong\n;;2,5;gong\n'],
    ['an action in capitals', 'time,channel,action\r\n1.5,gong,DROP\r\n'],
    ['no file', null],
  ])('%s is left in peace', (_, text) => {
    expect(unreadCorrections(text)).toEqual([]);
  });

  it('lines are counted through cells that run over several', () => {
    expect(said('time,channel,action,note\n1.5,gong,drop,"first\nsecond"\n2.5,gong,ad,\n')).toEqual([
      ['line 4', 'the correction in line 4 is not used: "ad" is no action; write "add"'],
    ]);
  });
});
