/** `user` = decided by the map file; `inferred` = concluded from the values and reported as such. */
export type Certainty = 'certain' | 'likely' | 'inferred' | 'user';
