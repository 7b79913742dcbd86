/** The rules as the second thread loads them: a part of the bundle of their own, shared with the commands. */
export { observeShare } from '@telltale/core';
