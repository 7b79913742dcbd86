import { Fault } from './fault.js';

/**
 * Files that people give in place of a log, by their first bytes (PKWARE APPNOTE 4.3.7; ISO/IEC 15948 5.2; ISO 32000-1
 * 7.5.2; JPEG: ITU-T T.81 B.1.1.3). An archive that does not compress holds text that would read as a log otherwise.
 */
const FOREIGN: readonly (readonly [readonly number[], string])[] = [
  [
    [0x50, 0x4b, 3, 4],
    'a ZIP archive or a workbook; expected CSV text: unpack it and name the CSV files in it, or export as CSV',
  ],
  [[0x50, 0x4b, 5, 6], 'an empty ZIP archive; expected CSV text'],
  [[0x89, 0x50, 0x4e, 0x47], 'a picture (PNG); expected CSV text: export the log as CSV'],
  [[0xff, 0xd8, 0xff], 'a picture (JPEG); expected CSV text: export the log as CSV'],
  [[0x25, 0x50, 0x44, 0x46, 0x2d], 'a PDF document; expected CSV text: export the log as CSV'],
];

/** Refuses a file of another kind by name. @throws Fault `not-text` */
export function refuseForeign(head: Uint8Array): void {
  for (const [mark, found] of FOREIGN) {
    if (mark.every((byte, i) => head[i] === byte)) throw new Fault('not-text', `the file is ${found}`, 1);
  }
}
