// One check and one marker reader, of the same shapes as Shimwright's own.
export const checks = [
  {
    id: 'bell-count',
    looksFor: 'How often the bell was struck.',
    run: ({ machine, strokes }) => {
      const bell = machine.description.channels.findIndex(({ id }) => id === 'bell');
      const count = strokes.hits.channel.filter((channel) => channel === bell).length;
      return [
        {
          kind: 'example:bell-count',
          severity: 'note',
          channel: 'bell',
          message: `the bell was struck ${count} times`,
        },
      ];
    },
  },
];

export const markerReaders = [
  {
    what: 'lines of seconds and a label below a line that says STRIKES',
    recognises: (name, head) =>
      name.endsWith('.strikes') && new TextDecoder().decode(head).startsWith('STRIKES'),
    read: async (file) => {
      const [, ...lines] = new TextDecoder()
        .decode(await file.read())
        .trim()
        .split('\n');
      const markers = lines.map((line, i) => {
        const [time, label] = line.split(' ');
        return { timeS: Number(time), endS: null, label, place: `line ${i + 2}` };
      });
      return { markers, notices: [] };
    },
  },
];
