"""What is wrong: numbers, days, texts, bytes, names of fields, headers, methods, kinds of content. `rubbish` makes
requests of it, `rubbish_commands` arguments and files."""

from __future__ import annotations

NUMBERS = """0 -1 -0 1 2 7 99 100 1.5 1,5 1.000 1,000 1.000.000 1_000 0x10 0b1 1e5 1E400 -1e400 1e-400 1e308 NaN nan inf
-inf Infinity 00000001 +1 --1 1/0 1/2 25/24 ½ ² ³ ① 1² ١٢٣ ３ ٣٫٥ 十 Ⅷ 1:30 999:59:59 0:00 . , - + / : % 1. .1 1e
9007199254740993 9223372036854775807 9223372036854775808 -9223372036854775809 18446744073709551616
99999999999999999999 0.30000000000000000000000000000000001 25:parsec 25:N/cm 99999999999:km 25:um:thread 1e9:h
5:degC -500:degC 100:% 1:000 3..5 3-5 5-3 1;2;3 1;;3 ;;; 1:2:3 L*=50:a*=1 50;1;2 D50 0:0:0 1:! 16:mm!""".split()

DAYS = """0000-00-00 0000-01-01 0001-01-01 9999-12-31 10000-01-01 2026-02-31 2026-02-29 2026-13-01 2026-00-10
-0001-01-01 2026-1-1 20260310 2026-W10-2 2026-069 26-03-10 10/03/2026 31.12.2026 ٢٠٢٦-٠٣-١٠ 2026-03-1² 2026-03-10T25:00
2026-03-10T10:00:60 2026-03-10T10:00Z 2026-03-10T10:00+99:99 2026-03-10T10:00+23:59:59.999999 2026-03-29T02:30
0001-01-01T00:00+14:00 0001-01-01T00:00 9999-12-31T23:59-14:00 9999-12-31T23:59 1969-12-31T23:59
1970-01-01T00:00 2026-03-10_10:00 T10:00 2026-03-10T10:00:00.1234567890123 2262-04-12 3000-01-01T00:00 today
tomorrow 10:00""".split()

TEXTS = [
    "", " ", "\u00a0", "\t", "\n", "\r\n\r\n", "\0", "a\0b", "\x1b[31m", "\x7f", "\x80", "\u2028", "\ufeff",
    "\ufffe", "\u200f\u202eabc", "\u2066\u2069", "\U0001f9f5\U0001f469\u200d\U0001f3a8", "e\u0301",
    "x" + "\u0301" * 900, "\u1100\uac00", "\U0010ffff", "ß", "İ", "ﬁ", "Ǆ", "ſ", "A" * 300, "A" * 10_000,
    "é" * 5_000, "A " * 4_000, "'", "\"", "`", "'; DROP TABLE entries; --", "' OR '1'='1", "%", "_", "*", "?", "[",
    "(", ")", "[a-", "(?P<a", "\\", "\\1", "a{9999}", "+", "$", "^", "|", ".", "..", "/", "//", "../../../shop.db",
    "C:\\x", "{{7*7}}", "{% raw %}", "{0}", "{name}", "{0.__class__}", "{", "}", "${7}", "%s%n", "%(x)s", "%d",
    "<script>ouch</script>", "\"><script>ouch", "<!--", "]]>", "&amp;", "&#0;", "=1+1", ";=1+1", "@x", "[]", "{}",
    "[[[[", '{"a":[1]}', "null", "true", "NULL", "None", "undefined", "http://[", "http://[::1", "http://a:b:c",
    "http://x:99999999", "//evil.test", "/\\evil.test", "javascript:ouch", "/desk?" + "a" * 3_000, "a.b.c.d",
    "s1.strokes", "yes", "no", "on", "1" * 24, "9" * 400, "9" * 5_000, "-" + "9" * 400, "0." + "9" * 400, "²" * 40,
    "1" + "0" * 308, "٣" * 20, "[" * 3_000, "\n".join("1" for _ in range(300)),
    ",".join("7" for _ in range(3_000)), "a=1&b=2", "7K32XM", "000000", "OOOOOO", "7k32xm", "7K32XM " * 40,
    "sha256:" + "0" * 64, "0" * 64, "f" * 63, "#", "# \n= 1", "[a]\n[a]", "a = 1\na = 2", "title = \"x\"",
    '["/jobs/new", "/jobs", [["title", "\\ud800"]], false]', '["/jobs/new", "/jobs", [["title", 1e400]], false]',
    "[" * 100_000, '[{"a": ' * 90, '["/people", "//[", [["\\ud800", 7], 3], {}]', '[1, 2, 3, 4]',
    '{"a": 1, "b": 2, "c": 3, "d": 4}', "1" * 5_000, "NaN", '"abcd"',
]  # fmt: skip

RAW = [
    b"\xff", b"\xfe\xff", b"\xed\xa0\x80", b"\xed\xbf\xbf", b"\xc0\x80", b"\xf4\x90\x80\x80", b"\xe2\x82",
    b"abc\xffdef", b"\x89PNG\r\n\x1a\n",
]  # fmt: skip
"""Bytes that are no text: halves of characters, surrogates alone, longer than they may be."""

BAD: list[bytes] = [
    *(
        one.replace(":", " ", 1).encode() if one[:1].isdigit() and one[-1:].isalpha() else one.encode()
        for one in NUMBERS
    ),
    *(one.replace("_", " ").encode() for one in DAYS),
    *(one.encode() for one in TEXTS),
    *RAW,
]
"""All of them, as they are sent."""

METHODS = (
    "HEAD", "OPTIONS", "PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "PROPFIND", "get", "POS", "X" * 60,
)  # fmt: skip

NAMES = {
    "<script>ouch", "", "a" * 500, "entry.r2.d1", "s1.r5.d1", "secret.r99999.d1", "secret.r²d1", "garment.1.style",
    "garment.²", "placement.1.station.99999999999999999999.ink", "placement.-1.name", "x.meant", "x.asked",
    "x.unit", ".", "..", "\0", "%s", "{0}",
}  # fmt: skip
"""Names of fields that no form has."""

HEADERS: dict[str, list[str]] = {
    "Host": [
        "", " ", "[", "[::1", "a b", "x:y", "localhost:99999999", "localhost:²", "é", "a" * 3_000, "..",
        "localhost, x", "evil.test", "\x80",
    ],
    "Referer": [
        "http://[", "http://[::1", "//", "http://localhost/\udc80".encode("utf-8", "replace").decode(),
        "http://a:b:c/", "javascript:1", "/" * 3_000, "http://localhost/t/%00", "http://localhost//evil.test",
        "http://localhost/\\evil", "é", "http://localhost/?" + "%" * 90,
    ],
    "Origin": ["null", "", "http://[", "http://localhost:²", "HTTP://LOCALHOST", "http://localhost/", "é"],
    "Cookie": [
        "shop", "shop=", "shop=\"", "shop=\x80\xff", "shop=a; shop=b", ";;;", "=", "view=<script>ouch",
        "view=²; shop=²", "a=" + "b" * 4_000, "device=' OR 1", "device=²; shop=\"\\777\"",
        "view=safelight; device=" + "9" * 400, "shop=\\\"; view=safelight",
    ],
    "Accept-Language": ["", "*", "de;q=²", "x" * 2_000, "de;q=nan", ",,,", "en;q=1e400", "-", "é"],
    "Accept-Encoding": ["", "gzip;q=nan", "gzip;q=²", "identity;q=0", "*;q=0", ",,", "gzip" * 500, "br;q=-1"],
    "Accept": ["", "*", "text/html;q=²", "application/json", "/", "a/b;c=\"", "x" * 2_000],
    "If-None-Match": ["*", "\"", "W/", "W/\"a", "²", "a, b, \"c", "x" * 2_000],
    "If-Modified-Since": [
        "never", "Thu, 99 Abc 99999 99:99:99 GMT", "0", "²", "Sat, 01 Jan 10000 00:00:00 GMT",
        "Tue, 10 Mar 2026 10:00:00 +9999",
    ],
    "If-Range": ["\"", "Thu, 99 Abc", "²"],
    "Range": [
        "bytes=", "bytes=-", "bytes=0-0", "bytes=5-1", "bytes=99999999999999999999-", "bytes=²-",
        "bytes=0-1,2-3,4-5", "bytes=-1", "lines=1-2", "bytes=a-b", "bytes=0-99999999999999999999",
        "bytes=-" + "9" * 400,
    ],
    "X-Forwarded-For": ["", "²", "[", "1.2.3.4, " * 200, "<script>ouch"],
    "X-Forwarded-Host": ["evil.test", "[", "é"],
    "X-Forwarded-Proto": ["https", "javascript", ""],
    "X-Forwarded-Port": ["²", "-1", "9" * 400],
    "X-Forwarded-Prefix": ["/x", "//evil", "\\"],
    "Forwarded": ["for=", "for=\"[", "host=evil"],
    "X-HTTP-Method-Override": ["PUT", "DELETE", "²"],
    "Authorization": ["Basic", "Basic ²", "Basic " + "=" * 99, "Bearer a", "Digest a=\""],
    "Sent-By": ["", "app", "²", "x" * 900],
    "Expect": ["", "200-ok"],
    "Content-Encoding": ["gzip", "deflate", "²"],
    "User-Agent": ["", "é", "<script>ouch", "x" * 3_000],
    "Date": ["²"],
    "Max-Forwards": ["²"],
    "X-Nothing": ["\x80\xff", "x" * 5_000],
    "Sec-Fetch-Site": ["cross-site"],
    "Cache-Control": ["max-age=²", "no-cache, max-age=" + "9" * 400],
    "TE": ["²"],
    "Upgrade": ["h2c"],
    "Content-Language": ["²"],
    "Pragma": ["²"],
    "Connection": ["close, x", "keep-alive"],
    "Content-MD5": ["²"],
}  # fmt: skip
"""Headers and what is wrong in each; sent as Latin-1, else as UTF-8."""

KINDS = [
    "", "text/plain", "text", "/", ";", "application/json", "application/json; charset=²", "application/xml",
    "multipart/form-data", "multipart/form-data; boundary=", "multipart/form-data; boundary=\"",
    "multipart/form-data; boundary=" + "x" * 400, "multipart/form-data; boundary=é", "multipart/mixed; boundary=x",
    "application/x-www-form-urlencoded; charset=utf-16", "application/x-www-form-urlencoded; charset=²",
    "application/x-www-form-urlencoded; charset=\"", "x" * 2_000, "APPLICATION/X-WWW-FORM-URLENCODED",
    "application/x-www-form-urlencoded;;;", "image/png",
]  # fmt: skip
"""Kinds of content that no form of ours has."""

DISPOSITIONS = [
    'form-data; name="{}"; filename*=utf-8\'\'%ff%', "form-data; name*=²", "form-data", "form-data; name",
    "attachment; name=\"{}\"", 'form-data; name="{}', 'form-data; name="{}"; name="{}"', "form-data; filename=x",
    "", ";", 'form-data; name="{}"; filename="../../x"', 'form-data; name="{}"; filename="\0"',
    'form-data; name={}; filename="' + "x" * 900 + '"',
]  # fmt: skip

FIRST_LINES = [
    b"GET /ping HTTP/1.1", b"GET /ping HTTP/9.9", b"GET  /ping  HTTP/1.1", b"GET /ping", b"GET", b"", b"\0\0\0",
    b"GET /ping HTTP/1.1\0", b"POST /sign-in HTTP/1.1", b"POST /view HTTP/1.0", b"PRI * HTTP/2.0",
    b"OPTIONS * HTTP/1.1", b"CONNECT localhost:22 HTTP/1.1", b"GET http://[ HTTP/1.1",
    b"GET http://localhost/ping HTTP/1.1", b"GET //ping HTTP/1.1", b"GET /\xff HTTP/1.1",
    b"GET /ping?\xff HTTP/1.1", b"GET /" + b"a" * 9_000 + b" HTTP/1.1", b"GET /ping\tHTTP/1.1",
    b" GET /ping HTTP/1.1", b"\r\n\r\nGET /ping HTTP/1.1", b"get /ping http/1.1",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", b"GET /sign-in#x HTTP/1.1", b"GET ? HTTP/1.1",
    b"GET /%zz%ff HTTP/1.1", "GET /² HTTP/1.1".encode(),
]  # fmt: skip
"""First lines of requests to a server, right and wrong."""
HEADER_LINES = [
    b"Host: localhost", b"Host: localhost\r\nHost: evil.test", b"Host:", b"host : localhost", b"Content-Length: 7",
    b"Content-Length: 7\r\nContent-Length: 9", b"Content-Length: -1", "Content-Length: ²".encode(),
    b"Content-Length: 0x7", b"Content-Length: +7", b"Content-Length: 99999999999999999999",
    b"Content-Length: " + b"9" * 5_000, b"Content-Length: 7, 7", b"Content-Length:", b"Content-Length: 1_0",
    b"Transfer-Encoding: chunked", b"Transfer-Encoding: chunked\r\nContent-Length: 3",
    b"Transfer-Encoding: gzip, chunked", b"Transfer-Encoding: x", b"Transfer-Encoding: chunked, chunked",
    b"Transfer-Encoding:\x0bchunked", b"Expect: 100-continue", b"Expect: x",
    b"Connection: upgrade\r\nUpgrade: websocket", b"no colon", b": no name", b"X: a\r\n folded", b"X\0Y: a",
    b"X: a\0b", b"X: \xff", b"X: " + b"y" * 300_000, b"Origin: http://localhost", b"Cookie: shop=\xff\x00",
    b"Content-Type: multipart/form-data; boundary=" + b"x" * 5_000, b"X-Forwarded-For: [", b"Content_Length: 7",
    b"Range: bytes=0-,0-,0-", b"X: a\nY: b", b"X: a\rY: b",
]  # fmt: skip
"""Lines behind it, right and wrong."""
ENDS = [
    b"", b"name=x&", b"a" * 9, b"7\r\nname=x&\r\n0\r\n\r\n", b"ffffffffffffffffff\r\nx", b"-1\r\nx\r\n0\r\n\r\n",
    "²\r\nx".encode(), b"7;a=b\r\nname=x&\r\n0\r\nX: y\r\n\r\n", b"1\r\nab\r\n0\r\n\r\n", b"g\r\n",
    b"0\r\n\r\nGET /ping HTTP/1.1\r\nHost: x\r\n\r\n", b"\0" * 4_000, b"0x7\r\nname=x&\r\n0\r\n\r\n",
    b"7" * 20_000,
]  # fmt: skip
"""What comes behind the empty line."""
