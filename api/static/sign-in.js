// A link that signs in carries its code behind the #, which no browser sends: it is taken off the address and typed in.
"use strict";
const code = decodeURIComponent(location.hash.slice(1));
if (code) {
  history.replaceState(null, "", location.pathname + location.search);
  document.getElementById("token").value = code;
  document.getElementById("sign-in").submit();
}
