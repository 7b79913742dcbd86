import { createHmac } from 'node:crypto';

/**
 * A vehicle identification number: 17 letters and digits without I, O and Q (ISO 3779), with a digit among the last four.
 * Words of 17 letters are none.
 */
const NUMBER =
  /(?<![A-Za-z0-9])(?=[A-Za-z0-9]*\d)[A-HJ-NPR-Za-hj-npr-z0-9]{13}[A-HJ-NPR-Za-hj-npr-z0-9]*\d{2}(?![A-Za-z0-9])/g;
const LENGTH = 17;

/** Whether a text holds what looks like a vehicle identification number. */
export function holdsIdentification(text: string): boolean {
  return [...text.matchAll(NUMBER)].some(([found]) => found.length === LENGTH);
}

/**
 * The text with identification numbers replaced by a hash that is the same for the same number within one book, and tells
 * nothing outside it (HMAC-SHA-256 with the book's own key, RFC 2104).
 * @param secret key of the book, hexadecimal
 */
export function withoutIdentification(text: string, secret: string): string {
  return text.replace(NUMBER, (found) => {
    if (found.length !== LENGTH) return found;
    const digest = createHmac('sha256', Buffer.from(secret, 'hex')).update(found.toUpperCase()).digest('hex');
    return `car-${digest.slice(0, 12)}`;
  });
}
