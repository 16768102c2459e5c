// Where this trail is on its host, as the page has it from the server: "" or such as "/t/alderbeck".
export const BASE = globalThis.document?.documentElement?.dataset.base ?? "";

/** An address of this trail. @param {string} address */
export const at = (address) => BASE + address;

/** The name of what a browser stores for the whole host: another trail's has another one. @param {string} name */
export const named = (name) => BASE ? name + " " + BASE : name;
