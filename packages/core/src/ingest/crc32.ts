/** Remainders of the reflected polynomial of RFC 1952 section 8 (0xEDB88320), four bytes at a time. */
const TABLES = tables();

function tables(): Uint32Array[] {
  const first = new Uint32Array(256);
  for (let n = 0; n < 256; n++) {
    let c = n;
    for (let k = 0; k < 8; k++) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1;
    first[n] = c;
  }
  const all = [first];
  for (let t = 1; t < 4; t++) all.push(all[t - 1]!.map((c) => (c >>> 8) ^ first[c & 255]!));
  return all;
}

/** CRC-32 of gzip (RFC 1952 section 8). `crc` is the sum so far, 0 at first. */
export function crc32(bytes: Uint8Array, crc: number): number {
  const [t0, t1, t2, t3] = TABLES as [Uint32Array, Uint32Array, Uint32Array, Uint32Array];
  let c = ~crc;
  let at = 0;
  for (const fours = bytes.length & ~3; at < fours; at += 4) {
    c ^= bytes[at]! | (bytes[at + 1]! << 8) | (bytes[at + 2]! << 16) | (bytes[at + 3]! << 24);
    c = t3[c & 255]! ^ t2[(c >>> 8) & 255]! ^ t1[(c >>> 16) & 255]! ^ t0[c >>> 24]!;
  }
  for (; at < bytes.length; at++) c = (c >>> 8) ^ t0[(c ^ bytes[at]!) & 255]!;
  return ~c >>> 0;
}
