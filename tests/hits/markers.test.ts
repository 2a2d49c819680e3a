import { expect, test } from 'vitest';
import type { Found } from '../../analysis/hits/select/found.ts';
import { nameByMarkers } from '../../analysis/hits/select/markers.ts';
import type { Marker, Take } from '../../analysis/take/take.ts';
import { takeOf, trackOf } from '../rig/take.ts';
import { machineOf } from './synthetic.ts';

const marker = (timeS: number, channel: number): Marker => ({
  timeS,
  endS: null,
  label: `c${channel}`,
  file: 'marks.csv',
  place: '',
  meaning: { kind: 'hit', channel },
});
const found = (timeS: number, channel: number): Found => ({
  timeS,
  timeSdS: 1e-6,
  track: 0,
  channel,
  peak: 0.5,
  why: null,
});
const shared: Take = takeOf(machineOf(2), [trackOf(new Float32Array(10), 48_000, [0, 1])]);
const single: Take = takeOf(machineOf(2), [trackOf(new Float32Array(10), 48_000, [0])]);

test('without audio each marker is a hit, its uncertainty from the grid its file writes on', () => {
  const take = { ...takeOf(machineOf(2), []), markers: [marker(0.25, 1), marker(0.501, 0)] };
  const hits = nameByMarkers([], take);
  expect([...hits.timeS]).toEqual([0.25, 0.501]);
  expect([...hits.channel]).toEqual([1, 0]);
  expect([...hits.track]).toEqual([-1, -1]);
  expect(hits.timeSdS[0]).toBeCloseTo(0.001 / Math.sqrt(12), 12);
  expect(hits.levelDb[0]).toBeNaN();
});

test('with audio a marker names the hit nearest it and adds none', () => {
  const take = { ...shared, markers: [marker(1.004, 1), marker(5, 0)] };
  const hits = nameByMarkers([found(1, 0), found(1.03, -1)], take);
  expect([...hits.channel]).toEqual([1, -1]);
  expect([...hits.timeS]).toEqual([1, 1.03]);
});

test('one marker names one hit', () => {
  const take = { ...shared, markers: [marker(1.001, 1)] };
  expect([...nameByMarkers([found(1, -1), found(1.002, -1)], take).channel].sort()).toEqual([-1, 1]);
});

test('a track that one channel has to itself takes no other name', () => {
  const take = { ...single, markers: [marker(1, 1)] };
  expect([...nameByMarkers([found(1, 0)], take).channel]).toEqual([0]);
});
