/** What the demo machine's builders wrote down themselves. */

export const calibrationLog = `# Calibration log, weaving-shed barrel

Ours by hand, newest on top. Shim counts are what is really in there, not what was planned.

## 1 November: third round

Second set of shims in: BC up to 8, CD down to 1, DE and EF to 7. Slat lever nearly empty now (1), it was the worst.
Left clapper down to 2, right one up to 11, low gong 9. Beater at −9.
The rim-right pin that sat one hole late is moved; it fought us, the brass had picked up.
Not touched yet: high gong and bell. The high gong sounds behind to everyone in the room.
Only the stereo pair left in the shed. Recorded five turns from wherever it stood.
Emptied the drawer to count it: one shim of 0.1 left, four of 0.2. And put down what has to come off: the gallery is five minutes,
the ring guard a quarter of an hour.

## 18 October: second round

Joints: AB 3, BC 7, CD 2, DE 6, EF 6. Beater 6 mm lower. Right clapper lever 9, low gong lever 8.
New bush in the left clapper's pivot. It no longer rattles.
The bell missed a stroke again near the end of C. Spring? Watch it.

## 4 October: as built

All joints 5, levers 5 (slat 8, right clapper 6), collar at 0. Runs through without jamming, which is more than we hoped for.
The drum and the slat drag, the low gong jumps ahead. D sounds late as a whole, after the recast.
`;

export const buildNotes = `# Build notes

- Ring: six segments, 760 mm over the pin circle, 192 holes. Segment D is the second casting; the first had a blowhole.
- Drive: half a horsepower, worm gear 7.5 : 1, chain 2.4 : 1 to the crank, 32 : 1 to the barrel. The chain has one link that is long.
- 120 beats a minute is a turn of the barrel in 16 seconds. One 0.1 mm shim on the ring should then be two thirds of a millisecond.
- Before hands go in: drive off, isolator locked, key in the pocket, beater resting on the skin, barrel blocked.
- Wiring of the drive: done and signed for by the electrician. Not ours to touch.
`;
