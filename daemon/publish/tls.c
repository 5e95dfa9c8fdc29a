/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/tls.h"

/* What OpenSSL says of a chain: X509_V_ERR_... of its x509_vfy.h, of which no other
 * numbers are needed.  Under another TLS library CURLINFO_SSL_VERIFYRESULT stays 0 or
 * means something else, and the advice is the general one. */
enum verify_result {
	VERIFY_OK = 0,
	VERIFY_NOT_TOLD = 1, /* the chain is sound: the name is not */
	VERIFY_ISSUER_UNKNOWN = 2,
	VERIFY_NOT_YET_VALID = 9,
	VERIFY_EXPIRED = 10,
	VERIFY_SELF_SIGNED = 18,
	VERIFY_SELF_SIGNED_IN_CHAIN = 19,
	VERIFY_ISSUER_NOT_HERE = 20,
	VERIFY_LEAF_ALONE = 21,
};

bool
tls_set(CURL *curl, const char *ca_file, bool trust_anybody)
{
	long check_peer = trust_anybody ? 0 : 1, check_host = trust_anybody ? 0 : 2;

	if (curl_easy_setopt(curl, CURLOPT_SSLVERSION, (long)CURL_SSLVERSION_TLSv1_2) ||
	    curl_easy_setopt(curl, CURLOPT_SSL_VERIFYPEER, check_peer) ||
	    curl_easy_setopt(curl, CURLOPT_SSL_VERIFYHOST, check_host))
		return false;
	/* A file that was exchanged counts for the next connection, not tomorrow. */
	(void)curl_easy_setopt(curl, CURLOPT_CA_CACHE_TIMEOUT, 0L);
	if (*ca_file == '\0')
		return true;
	/* Those in the file, and none of the system's folder beside them. */
	return !curl_easy_setopt(curl, CURLOPT_CAINFO, ca_file) &&
	       !curl_easy_setopt(curl, CURLOPT_CAPATH, NULL);
}

static const char *
advice_on_chain(long verified)
{
	switch (verified) {
	case VERIFY_NOT_YET_VALID:
		return "; look at the clock of this PC first, then at the certificate";
	case VERIFY_EXPIRED:
		return "; renew it on the store, and look at the clock of this PC";
	case VERIFY_SELF_SIGNED:
		return "; write 'ca_file' with this certificate in PEM, or with that "
		       "of the plant's own authority";
	case VERIFY_ISSUER_UNKNOWN:
	case VERIFY_SELF_SIGNED_IN_CHAIN:
	case VERIFY_ISSUER_NOT_HERE:
	case VERIFY_LEAF_ALONE:
		return "; write 'ca_file' with the certificate of the authority that "
		       "signed it, in PEM";
	case VERIFY_OK:
	case VERIFY_NOT_TOLD:
		return "; 'url' must call the store by a name that stands in its "
		       "certificate";
	default:
		return "; look at the certificate of the store, and at 'ca_file'";
	}
}

const char *
tls_advice(CURL *curl, CURLcode code)
{
	long verified = -1;

	switch ((int)code) { /* a hundred codes of libcurl: the rest is not of TLS */
	case CURLE_PEER_FAILED_VERIFICATION:
		(void)curl_easy_getinfo(curl, CURLINFO_SSL_VERIFYRESULT, &verified);
		return advice_on_chain(verified);
	case CURLE_SSL_CACERT_BADFILE:
		return "; 'ca_file' must be there, in PEM, for the user evensoak to "
		       "read";
	case CURLE_SSL_CONNECT_ERROR:
		return "; does the store speak TLS 1.2 or later on this port, or is "
		       "it http?";
	default:
		return "";
	}
}

bool
tls_refuses(CURLcode code)
{
	return code == CURLE_PEER_FAILED_VERIFICATION ||
	       code == CURLE_SSL_CACERT_BADFILE;
}
